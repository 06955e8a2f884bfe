"""Who holds a due message: claim, begin, give back, and what a lease that ran out means.

Each step is its own committed transaction. Every change of a held row is conditional on its attempt,
so that a sweeper which comes back too late changes nothing.
"""

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.conf import settings
from django.db import connection, transaction
from django.db.models import F

from clinic.messages import kinds
from clinic.messages.actions.planning import note
from clinic.messages.models import DueMessage, Held, State
from clinic.trail.among import Among
from clinic.trail.readymade import Statement, blanks, once, update

CLAIM_LEASE = timedelta(minutes=2)
# Below that, reading for a batch costs more than waiting for the other sweep.
LEAST_SHARE = 20
# Longer than the slowest honest hand-over: several waits of a mail dialogue, one after the other.
LEAST_HAND_OVER_LEASE = timedelta(minutes=3)


def hand_over_lease() -> timedelta:
    return max(LEAST_HAND_OVER_LEASE, 3 * timedelta(seconds=settings.EMAIL_TIMEOUT))


def is_anything_to_do(*, now: datetime, real_now: datetime) -> bool:
    """One question, answered from two small indexes: what is due, and whose lease ran out."""
    due = DueMessage.objects.sendable(now=now, real_now=real_now).order_by().values_list("pk")
    over = DueMessage.objects.run_out(real_now).order_by().values_list("pk")
    return bool(due.union(over, all=True)[:1])


def share(*, now: datetime, real_now: datetime, limit: int) -> int:
    """How many to claim next: half of the last ones, so that two sweeps come to their end together."""
    if not connection.features.has_select_for_update_skip_locked:
        return limit
    left = DueMessage.objects.sendable(now=now, real_now=real_now).order_by()[: 2 * limit].count()
    return min(limit, max(LEAST_SHARE, left // 2))


def claim(*, now: datetime, real_now: datetime, limit: int, only: int | None = None) -> list[Held]:
    """SKIP LOCKED on PostgreSQL; on SQLite the transaction is IMMEDIATE, so two claims never run at once."""
    with transaction.atomic(durable=True):
        waiting = DueMessage.objects.sendable(now=now, real_now=real_now)
        if only is not None:
            waiting = waiting.filter(pk=only)
        first = waiting.order_by("due_at", "pk").select_for_update(skip_locked=True)
        rows = first.values_list("pk", F("attempt") + 1, *Held._fields[2:])[:limit]
        held = [Held._make(row) for row in rows]
        if not held:
            return []
        DueMessage.objects.filter(Among("pk", (each.pk for each in held))).update(
            state=State.CLAIMED, lease_until=real_now + CLAIM_LEASE, attempt=F("attempt") + 1
        )
    return held


def begin(message: Held, *, message_id: str, real_now: datetime) -> bool:
    """Committed before anything leaves. False when the row was cancelled or taken over meanwhile."""
    lease = real_now + hand_over_lease()
    values = {"lease_until": lease, "message_id": message_id}
    return bool(_begun().run(id=message.pk, attempt=message.attempt, **values))


@once
def _begun() -> Statement:
    held = DueMessage.objects.filter(state=State.CLAIMED, **blanks(DueMessage, "id", "attempt"))
    return update(held, state=State.HANDING_OVER, **blanks(DueMessage, "lease_until", "message_id"))


def release(messages: Iterable[Held]) -> None:
    """Claimed but not begun: somebody else may take them at once, and it was no try. One statement per attempt.

    The number may be given out again: nobody has begun under it.
    """
    by_attempt: dict[int, list[int]] = defaultdict(list)
    for message in messages:
        by_attempt[message.attempt].append(message.pk)
    for attempt, pks in by_attempt.items():
        held = DueMessage.objects.filter(Among("pk", pks), attempt=attempt, state=State.CLAIMED)
        held.update(state=State.DUE, lease_until=None, attempt=F("attempt") - 1)


def expire(*, now: datetime, real_now: datetime) -> int:
    """A claim that ran out is due again; a hand-over that ran out may or may not have happened."""
    over = DueMessage.objects.run_out(real_now)
    given_back = over.filter(state=State.CLAIMED).update(state=State.DUE, lease_until=None)
    broken = list(over.filter(state=State.HANDING_OVER).order_by("pk"))
    return given_back + sum(doubt(message, reason="the hand-over was cut off", now=now) for message in broken)


def doubt(message: DueMessage, *, reason: str, now: datetime) -> bool:
    """The row becomes uncertain; a kind that allows it is sent once more, and only once."""
    with transaction.atomic():
        held = DueMessage.objects.filter(pk=message.pk, attempt=message.attempt, state=State.HANDING_OVER)
        again = _may_go_again(message)
        changed = held.update(
            state=State.DUE if again else State.UNCERTAIN,
            reason=f"{reason}; sent once more" if again else reason,
            times_uncertain=F("times_uncertain") + 1,
            lease_until=None,
            handed_over_at=now,
            settled_at=None if again else now,
        )
        if changed:
            note(message, verb="messages.uncertain", reason=reason, sent_once_more=again)
    return bool(changed)


def _may_go_again(message: DueMessage) -> bool:
    known = kinds.registered().get(message.kind)
    return known is not None and known.resend_uncertain and message.times_uncertain == 0
