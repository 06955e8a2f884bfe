"""Nobody writes to the dead or calls them; who moved away is not reminded of anything here any more."""

from datetime import datetime

from clinic.messages import kinds
from clinic.messages.actions.planning import note, stop_waiting
from clinic.messages.models import Call, DueMessage, Outcome
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
    for call in (
        Call.objects.open().filter(message__in=theirs).select_related("message").select_for_update(of=("self",))
    ):
        if _is_over(call.message, leaving):
            call.settled_at, call.settled_by, call.outcome = now, actor.name, Outcome.NOT_NEEDED
            call.save(update_fields=["settled_at", "settled_by", "outcome"])
            note(call.message, verb="messages.call_settled", actor=actor, outcome=Outcome.NOT_NEEDED)


def _is_over(message: DueMessage, leaving: Leaving) -> bool:
    """After a move only reminders and invitations: not questions about harm, nor answers to what was just asked."""
    if leaving is Leaving.DIED:
        return True
    kind = kinds.registered().get(message.kind)
    return kind is not None and kind.keeps_limits
