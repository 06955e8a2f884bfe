"""On the patient's page: how they may be written to, and what was written to them lately."""

from typing import Any

from django.http import HttpRequest

from clinic.accounts.rights import Capability, may
from clinic.messages import saying
from clinic.messages.channels import text
from clinic.messages.staff_forms import lines
from clinic.messages.text_replies import are_held_back
from clinic.patients.contact import contact
from clinic.patients.hints import Section
from clinic.patients.models import Channel, Patient


def _context(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    chosen = contact(patient)
    return {
        "patient": patient,
        "chosen": chosen,
        "lines": lines(chosen),
        # They go another way for the time being.
        "texts_held_back": patient.channel == Channel.TEXT and text.is_on() and are_held_back(patient.site),
        "may_change": may(request.user, Capability.PATIENTS_WRITE, patient.site) and patient.died_on is None,
    }


CONTACT = Section("contact", "messages/staff/_section.html", _context, position=40)

LATEST = 5


def _sent(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    if not may(request.user, Capability.MESSAGES_READ, patient.site):
        return {"patient": patient, "lines": None, "has_more": False}
    rows = list(saying.of_patient(patient)[: LATEST + 1])
    return {"patient": patient, "lines": saying.lines(rows[:LATEST]), "has_more": len(rows) > LATEST}


SENT = Section("messages", "messages/staff/_sent_section.html", _sent, position=45)
