"""Which letters of a batch are still to be written, and the sheet they are drawn on."""

import logging
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.documents import kinds as documents
from clinic.documents.actions import Prepared, print_out
from clinic.messages import kinds, paper
from clinic.messages.actions.byhand import call_off
from clinic.messages.actions.planning import note
from clinic.messages.conditions import is_unwanted, surviving
from clinic.messages.handover import WRITING_ERRORS
from clinic.messages.kinds import Kind
from clinic.messages.models import Call, DueMessage, LetterBatch, State
from clinic.messages.paper import Sheet
from clinic.messages.wordings import current as wordings
from clinic.patients.contact import contact
from clinic.patients.models import Patient
from clinic.patients.person import hold_people
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal

logger = logging.getLogger(__name__)
KIND = "letters_to_post"


class NoLetterLeft(Refusal):
    code = "messages.no_letter_left"
    sentence = _("No letter is to be printed here any more. What a letter can no longer say is a call now.")


class BatchEnded(Refusal):
    code = "messages.letter_batch_ended"
    sentence = _("Somebody has noted already what became of these letters. Reload the page to see it.")


def register() -> None:
    documents.register(
        documents.DocumentKind(
            code=KIND,
            word=_("letters to post"),
            clinical=False,
            template="documents/letters_to_post.html",
            version=1,
            kept=False,
        )
    )


def draw(*, batch: LetterBatch, user: User, actor: Actor, now: datetime) -> Prepared:
    """Reads every condition again: what is no longer wanted, or came too late for the post, leaves the batch.

    Raises BatchEnded, NoLetterLeft, RenderFailed.
    """
    require(user, Capability.MESSAGES_SEND, batch.site)
    with transaction.atomic():
        hold_whose(batch.calls.open())
        # Its key stays as it is: calls that refer to it are written meanwhile.
        held = LetterBatch.objects.open().filter(pk=batch.pk).select_for_update(no_key=True).first()
        if held is None:
            raise BatchEnded
        sheets = sort_out(locked(batch.calls.open()), actor=actor, now=now)
    if not sheets:
        raise NoLetterLeft
    return print_out(
        kind=KIND,
        site=batch.site,
        context={"letters": sheets},
        language=user.language,
        title=_("Letters to post"),
        subject=("letter_batch", batch.pk),
        actor=actor,
        now=now,
    )


def hold_whose(calls: QuerySet[Call]) -> None:
    """The patients before their messages and calls, as everybody locks them who ends what waits for somebody."""
    hold_people(set(calls.order_by().values_list("patient_id", flat=True)))


def locked(calls: QuerySet[Call]) -> list[Call]:
    """Those that are still open now that we hold their patients, the oldest first."""
    rows = calls.select_related("message__site__practice", "message__patient__merged_into")
    return list(rows.select_for_update(of=("self",)).order_by("wanted_at", "pk"))


def sort_out(calls: Iterable[Call], *, actor: Actor, now: datetime) -> list[Sheet]:
    """Within a transaction, the calls locked. What cannot go by post is settled, or is a call to make again."""
    with wordings.read_once():
        return [sheet for call in calls if (sheet := _sheet(call, actor, now)) is not None]


def _sheet(call: Call, actor: Actor, now: datetime) -> Sheet | None:
    message, patient = call.message, surviving(call.message.patient)
    kind = kinds.registered().get(message.kind)
    subject = kind.load(message.subject_id) if kind is not None else None
    if kind is None or subject is None:
        _not_needed(call, "what it was about is gone", actor, now)
        return None
    if reason := _unwanted(kind, subject, message, patient, now):
        _not_needed(call, reason, actor, now)
        return None
    sheet = _written(kind, subject, message, patient, now)
    if sheet is None:
        _to_call(call)
    return sheet


def _unwanted(kind: Kind[Any], subject: Any, message: DueMessage, patient: Patient, now: datetime) -> str:
    wanted = kind.still_wanted(subject, message, now)
    if wanted is not True:
        return wanted or "no longer wanted"
    return "the patient does not want such messages" if is_unwanted(message, kind, patient, contact(patient)) else ""


def _written(kind: Kind[Any], subject: Any, message: DueMessage, patient: Patient, now: datetime) -> Sheet | None:
    if paper.post_by(kind, subject, message, patient, now=now) is None:
        return None
    try:
        return paper.write_sheet(kind, subject, message, patient, now=now)
    except WRITING_ERRORS:
        logger.exception("Message %s of kind %s could not be written as a letter.", message.pk, message.kind)
        return None


def _not_needed(call: Call, reason: str, actor: Actor, now: datetime) -> None:
    call.message.state, call.message.reason, call.message.settled_at = State.CANCELLED, reason[:120], now
    call.message.save(update_fields=["state", "reason", "settled_at"])
    note(call.message, verb="messages.cancelled", actor=actor, because=reason)
    call_off([call], actor=actor, now=now)


def _to_call(call: Call) -> None:
    """Too late for the post, no address any more, or not to be written: somebody calls."""
    call.post_by = call.batch = None
    call.save(update_fields=["post_by", "batch"])
