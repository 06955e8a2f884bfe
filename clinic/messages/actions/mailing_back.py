"""What came into the practice's mailbox and is about a message of ours."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from clinic.messages import kinds
from clinic.messages.actions.choosing import stop_unwanted
from clinic.messages.actions.reporting import settle_as_back
from clinic.messages.conditions import surviving
from clinic.messages.mailbox.fetching import Taken
from clinic.messages.mailbox.reading import CameBack, read
from clinic.messages.models import DueMessage, State
from clinic.patients.actions import choose_contact
from clinic.patients.contact import contact
from clinic.patients.models import Patient, Purpose
from clinic.trail.actor import Actor


def take(content: bytes, *, now: datetime) -> Taken:
    said = read(content)
    message = _ours(said.message_ids) if said is not None else None
    if message is None:
        return Taken.FOR_A_PERSON
    if isinstance(said, CameBack):
        if message.state == State.HANDING_OVER:
            # Its server was quicker than we are: only what went out can come back.
            return Taken.LATER
        settle_as_back(message, now=now)
        return Taken.UNDERSTOOD
    return Taken.UNDERSTOOD if _end(message, now=now) else Taken.FOR_A_PERSON


def _ours(message_ids: tuple[str, ...]) -> DueMessage | None:
    """The newest of those named. A few mails a day: no index is kept for them."""
    if not message_ids:
        return None
    return DueMessage.objects.filter(message_id__in=message_ids).order_by("-pk").first()


def _end(message: DueMessage, *, now: datetime) -> bool:
    """No more messages for the purpose of the one that was answered. Asked twice, it is still one choice."""
    kind = kinds.registered().get(message.kind)
    if kind is None or kind.recipient is not None:
        return False
    purpose = Purpose(kind.purpose)
    with transaction.atomic():
        patient = Patient.objects.select_for_update(no_key=True).get(pk=surviving(message.patient).pk)
        actor = Actor(kind="patient", id=str(patient.pk), name=patient.name)
        if contact(patient).allowed[purpose]:
            words = {purpose: _("No more of these, by e-mail")}
            choose_contact(patient=patient, choices={purpose: False}, wordings=words, actor=actor, now=now)
            stop_unwanted(patient=patient, actor=actor, now=now)
    return True
