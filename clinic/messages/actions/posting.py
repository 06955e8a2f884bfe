"""Letters from the list into one batch, and from there into the post, or back."""

from datetime import datetime

from django.db import transaction

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from clinic.messages.actions.planning import note
from clinic.messages.models import Call, DueMessage, LetterBatch, Outcome, State
from clinic.messages.posting import BatchEnded, hold_whose, locked, sort_out
from clinic.patients.models import Channel
from clinic.trail.actor import Actor
from clinic.trail.record import record

# With the list in front, and even where each took two pages, one drawing (clinic.documents.limits) holds them.
MOST = 48


def make_batch(*, site: Site, user: User, actor: Actor, now: datetime) -> LetterBatch | None:
    """The oldest letters that still fit, together. None where none is left; what fits no more is sorted out."""
    require(user, Capability.MESSAGES_SEND, site)
    with transaction.atomic():
        # Whoever presses at the same moment waits here, and makes a batch of the rest.
        Site.objects.select_for_update(no_key=True).get(pk=site.pk)
        waiting = Call.objects.to_print(now=now).filter(site=site)
        oldest = [call.pk for call in waiting.order_by("wanted_at", "pk")[:MOST]]
        hold_whose(waiting.filter(pk__in=oldest))
        calls = locked(waiting.filter(pk__in=oldest))
        sort_out(calls, actor=actor, now=now)
        left = waiting.filter(pk__in=[call.pk for call in calls])
        if not left.exists():
            return None
        batch = LetterBatch.objects.create(site=site, made_at=now, made_by=actor.name)
        number = left.update(batch=batch)
        _record("messages.letters_made", batch, actor, letters=number)
    return batch


def post_batch(*, batch: LetterBatch, user: User, actor: Actor, now: datetime) -> int:
    """They are printed and posted: each message is handed over by letter and its call settled. Returns how many.

    Raises BatchEnded. A letter that somebody settled meanwhile stays as it was settled.
    """
    require(user, Capability.MESSAGES_SEND, batch.site)
    with transaction.atomic():
        hold_whose(batch.calls.open())
        _end(batch, posted_at=now, posted_by=actor.name)
        calls = locked(batch.calls.open())
        DueMessage.objects.filter(pk__in=[call.message_id for call in calls]).update(
            state=State.HANDED_OVER, channel=Channel.LETTER, reason="", handed_over_at=now, settled_at=now
        )
        Call.objects.filter(pk__in=[call.pk for call in calls]).update(
            settled_at=now, settled_by=actor.name, outcome=Outcome.POSTED
        )
        for call in calls:
            note(call.message, verb="messages.posted", actor=actor, channel=Channel.LETTER, batch=batch.pk)
    return len(calls)


def put_back(*, batch: LetterBatch, user: User, actor: Actor, now: datetime) -> None:
    """The printer jammed: they wait to be printed again, as if nobody had drawn them. Raises BatchEnded."""
    require(user, Capability.MESSAGES_SEND, batch.site)
    with transaction.atomic():
        hold_whose(batch.calls.open())
        _end(batch, put_back_at=now)
        number = batch.calls.open().update(batch=None)
        _record("messages.letters_put_back", batch, actor, letters=number)


def _end(batch: LetterBatch, **how: object) -> None:
    """Once: two presses at the same moment are one and a refusal."""
    if not LetterBatch.objects.open().filter(pk=batch.pk).update(**how):
        raise BatchEnded


def _record(verb: str, batch: LetterBatch, actor: Actor, **values: object) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("letter_batch", batch.pk),
        patient_id=None,
        site_id=batch.site_id,
        values=values,
    )
