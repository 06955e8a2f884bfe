"""What a mail provider reports about a mail that it took. Only here does a message become delivered."""

from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from clinic.messages import kinds
from clinic.messages.actions.bouncing import NotTheAddress, mail_came_back
from clinic.messages.actions.planning import note
from clinic.messages.conditions import surviving
from clinic.messages.models import DueMessage, State, Why
from clinic.messages.settling import try_elsewhere
from clinic.patients.models import Patient
from clinic.trail.actor import SYSTEM

# What was handed over, and what nobody knew for certain. A report that comes twice finds neither.
_TAKEN = [State.HANDED_OVER, State.UNCERTAIN]
# A mailbox may take a mail and send it back later.
_MAY_COME_BACK = [*_TAKEN, State.DELIVERED]


def arrived(*, provider_id: str, now: datetime) -> DueMessage | None:
    with transaction.atomic():
        message = _held(_called(provider_id), _TAKEN)
        if message is not None:
            _settle(message, State.DELIVERED, "", now)
            note(message, verb="messages.delivered")
    return message


def came_back(*, provider_id: str, now: datetime) -> DueMessage | None:
    """The address is marked where it is still the patient's; what the mail carried goes another way or is a call."""
    found = _called(provider_id).first()
    return settle_as_back(found, now=now) if found is not None else None


def settle_as_back(found: DueMessage, *, now: datetime) -> DueMessage | None:
    """None where it is settled as such already, or never went out."""
    with transaction.atomic():
        message = _held(DueMessage.objects.filter(pk=found.pk), _MAY_COME_BACK)
        if message is None:
            return None
        _settle(message, State.BOUNCED, "mail to the address comes back", now)
        note(message, verb="messages.came_back")
        kind = kinds.registered().get(message.kind)
        if kind is None or kind.recipient is None:
            _mark_address(message, now)
        subject = kind.load(message.subject_id) if kind is not None else None
        if kind is not None and subject is not None and kind.still_wanted(subject, message, now) is True:
            try_elsewhere(message, kind=kind, subject=subject, why=Why.BOUNCED, now=now)
    return message


def _called(provider_id: str) -> QuerySet[DueMessage]:
    """None where it cannot be printed: no message bears such a name, and PostgreSQL takes no null byte."""
    if not provider_id.isprintable():
        return DueMessage.objects.none()
    return DueMessage.objects.exclude(provider_id="").filter(provider_id=provider_id)


def _held(rows: QuerySet[DueMessage], states: list[State]) -> DueMessage | None:
    """The patient is locked first, as by whoever marks the address at the desk: neither then waits for the other."""
    found = rows.filter(state__in=states).select_related("patient__merged_into").first()
    if found is None:
        return None
    Patient.objects.select_for_update(no_key=True).get(pk=surviving(found.patient).pk)
    return (
        DueMessage.objects.filter(pk=found.pk, state__in=states)
        .select_for_update(of=("self",))
        .select_related("site", "patient__merged_into")
        .first()
    )


def _settle(message: DueMessage, state: State, reason: str, now: datetime) -> None:
    message.state, message.reason, message.settled_at = state, reason, now
    message.save(update_fields=["state", "reason", "settled_at"])


def _mark_address(message: DueMessage, now: datetime) -> None:
    try:
        mail_came_back(patient=surviving(message.patient), address=message.sent_to, actor=SYSTEM, now=now)
    except NotTheAddress:
        # Corrected since: what came back came from the old one.
        return
