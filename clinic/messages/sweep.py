"""One sweep: claim a batch, then row by row begin, read the conditions again, hand over, settle.

The table is the truth; whoever calls this (a Celery tick, a loop, a test) brings no data. Its two
clocks: `now` is the practice's and says what is due; leases and back-off go by real time, read at
each step, because one batch may take a while.
"""

import logging
import time
from collections import Counter, deque
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.core.mail import get_connection
from django.core.mail.backends.base import BaseEmailBackend

from clinic.messages import claims, handover, settling
from clinic.messages.ahead import Ahead, Lookahead
from clinic.messages.channels.email import message_id_for
from clinic.messages.channels.parcel import Handed
from clinic.messages.conditions import Drop, Wait, judge
from clinic.messages.models import DueMessage, Held, State
from clinic.messages.wordings import current as wordings
from clinic.trail.clock import real_now

logger = logging.getLogger(__name__)
BATCH = 100
# Well inside the worker's soft time limit; what is left over goes back and is next minute's work.
SECONDS = 40
WAITED_FOR_SECONDS = 10


@dataclass(slots=True)
class Swept:
    claimed: int = 0
    states: Counter[str] = field(default_factory=Counter)

    def __str__(self) -> str:
        parts = [f"{count} {state}" for state, count in sorted(self.states.items())]
        return f"{self.claimed} claimed" + (": " + ", ".join(parts) if parts else "")


def sweep(*, now: datetime, limit: int = BATCH, seconds: float = SECONDS) -> Swept:
    if not claims.is_anything_to_do(now=now, real_now=real_now()):
        return Swept()
    claims.expire(now=now, real_now=real_now())
    rows = claims.claim(now=now, real_now=real_now(), limit=limit)
    return _work_through(rows, now=now, seconds=seconds, connection=get_connection())


def sweep_while_full(*, now: datetime, limit: int = BATCH, seconds: float = SECONDS) -> Swept:
    """Batch after batch as long as each is full: a Monday's reminders do not wait a minute for each hundred.

    The practice's clock goes on meanwhile, so that nothing goes out after its time.
    """
    began, total, size = time.monotonic(), Swept(), limit
    while (gone := time.monotonic() - began) < seconds:
        done = sweep(now=now + timedelta(seconds=gone), limit=size, seconds=seconds - gone)
        total.claimed += done.claimed
        total.states += done.states
        if done.claimed < size:
            break
        size = claims.share(now=now, real_now=real_now(), limit=limit)
    return total


def sweep_until_settled(*, now: datetime, most_batches: int = 200) -> Swept:
    """Batch after batch until nothing is due at `now`."""
    total = Swept()
    for _ in range(most_batches):
        done = sweep(now=now)
        total.claimed += done.claimed
        total.states += done.states
        if done.claimed == 0:
            break
    return total


def hand_over_now(message_pk: int, *, now: datetime) -> None:
    """One message that somebody is waiting for, such as a code: the same path, without waiting for the tick."""
    rows = claims.claim(now=now, real_now=real_now(), limit=1, only=message_pk)
    # Nobody waits on a page for as long as the sweep may wait for a mail server.
    _work_through(rows, now=now, seconds=SECONDS, connection=get_connection(timeout=WAITED_FOR_SECONDS))


def _work_through(rows: list[Held], *, now: datetime, seconds: float, connection: BaseEmailBackend) -> Swept:
    swept = Swept(claimed=len(rows))
    if not rows:
        return swept
    waiting, ahead = deque(rows), Lookahead(now=now)
    ends_at = time.monotonic() + seconds
    try:
        with wordings.read_once():
            while waiting and time.monotonic() < ends_at:
                read = ahead.first_of(waiting)
                state = _one(waiting.popleft(), read, connection, now=now)
                swept.states[state or "taken by another"] += 1
    finally:
        claims.release(waiting)
        connection.close()
    return swept


def _one(claimed: Held, read: Ahead | None, connection: BaseEmailBackend, *, now: datetime) -> State | None:
    message_id = message_id_for(claimed)
    if not claims.begin(claimed, message_id=message_id, real_now=real_now()):
        return None
    # From here on nobody can stop it any more: what decides holds now as it was read, or is read again.
    known = read.look_again(now=now) if read is not None else None
    message = read.message if read is not None and known is not None else _alone(claimed)
    # The fence: what this sweeper settles is the attempt that it claimed.
    message.attempt, message.state, message.message_id = claimed.attempt, State.HANDING_OVER, message_id
    verdict = judge(message, now=now, known=known)
    if isinstance(verdict, Wait):
        return settling.put_off(message, verdict, real_now=real_now())
    if isinstance(verdict, Drop):
        return settling.drop(message, verdict, now=now)
    written = handover.write_out(message, verdict, now=now, number=read.number if read is not None else None)
    if isinstance(written, Drop):
        return settling.drop(message, written, now=now)
    if isinstance(written, Handed):
        return settling.settle(message, verdict, written, link=None, now=now, real_now=real_now())
    handed = handover.hand_over(written, verdict, connection)
    return settling.settle(message, verdict, handed, link=written.link, now=now, real_now=real_now())


def _alone(claimed: Held) -> DueMessage:
    rows = DueMessage.objects.select_related("patient__merged_into", "site__practice", "site__text_replies")
    return rows.get(pk=claimed.pk)
