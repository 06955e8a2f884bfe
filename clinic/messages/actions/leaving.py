"""Nobody writes to the dead or calls them; who moved away is not reminded of anything here any more."""

from datetime import date, datetime
from typing import Any

from clinic.messages import kinds
from clinic.messages.actions.byhand import call_off
from clinic.messages.actions.planning import note, stop_waiting
from clinic.messages.kinds import Kind
from clinic.messages.models import Call, DueMessage, Outcome, State
from clinic.patients.leaving import Leaving
from clinic.patients.models import Patient
from clinic.trail.actor import Actor

BECAUSE = {Leaving.DIED: "the patient has died", Leaving.MOVED: "the patient has moved away"}


def end_messages_of(patient: Patient, leaving: Leaving, actor: Actor, now: datetime) -> None:
    """What waits for them, and the calls that stand in for messages."""
    theirs = DueMessage.objects.of_person(patient)
    stop_waiting(
        theirs,
        only=lambda message: _is_over(message, leaving),
        because=BECAUSE[leaving],
        actor=actor,
        now=now,
    )
    open_calls = Call.objects.open().filter(message__in=theirs).select_related("message").order_by("pk")
    over = [call for call in open_calls if _is_over(call.message, leaving)]
    call_off(over, actor=actor, now=now, outcome=Outcome.GONE)


def give_messages_back(patient: Patient, since: date, actor: Actor, now: datetime) -> list[str]:
    """It was a mistake: what is still wanted and not too late waits again, and so do the calls."""
    theirs = DueMessage.objects.of_person(patient)
    ended = theirs.filter(state=State.CANCELLED, reason__in=BECAUSE.values(), not_after__gt=now)
    rows = ended.select_related("site").select_for_update(of=("self",)).order_by("due_at", "pk")
    for message in _once_about_each([row for row in rows if _is_wanted(row, patient, now)], now):
        message.due_at = max(message.due_at, now)
        message.state = State.PLANNED if message.due_at > now else State.DUE
        message.reason, message.settled_at = "", None
        message.save(update_fields=["due_at", "state", "reason", "settled_at"])
        note(message, verb="messages.planned_again", actor=actor, due_at=message.due_at)
    calls = Call.objects.filter(message__in=theirs, outcome=Outcome.GONE).select_related("message", "batch")
    for call in calls.select_for_update(of=("self",)).order_by("pk"):
        if _is_wanted(call.message, patient, now):
            call.settled_at, call.settled_by, call.outcome = None, "", ""
            # The batch that it was drawn in may be in the post by now, without it.
            call.batch = call.batch if call.batch is not None and call.batch.is_open else None
            call.save(update_fields=["settled_at", "settled_by", "outcome", "batch"])
            note(call.message, verb="messages.became_a_call", actor=actor, why=call.why)
    return []


def _once_about_each(rows: list[DueMessage], now: datetime) -> list[DueMessage]:
    """Of several reminders of one thing that would have gone out meanwhile, only the last one is still news."""
    last = {row.subject: row.pk for row in rows if row.due_at <= now and kinds.get(row.kind).keeps_limits}
    return [
        row for row in rows if row.due_at > now or not kinds.get(row.kind).keeps_limits or last[row.subject] == row.pk
    ]


def _is_wanted(message: DueMessage, patient: Patient, now: datetime) -> bool:
    """By what its kind says of it today; and while another such note stands, not what that one ends."""
    kind: Kind[Any] | None = kinds.registered().get(message.kind)
    if kind is None or patient.died_on is not None or (patient.moved_on is not None and kind.keeps_limits):
        return False
    subject = kind.load(message.subject_id)
    return subject is not None and kind.still_wanted(subject, message, now) is True


def _is_over(message: DueMessage, leaving: Leaving) -> bool:
    """After a move only reminders and invitations: not questions about harm, nor answers to what was just asked."""
    if leaving is Leaving.DIED:
        return True
    kind = kinds.registered().get(message.kind)
    return kind is not None and kind.keeps_limits
