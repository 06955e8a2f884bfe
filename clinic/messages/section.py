"""How a patient may be written to, as it stands on the patient's page."""

from typing import Any

from django.http import HttpRequest

from clinic.accounts.rights import Capability, may
from clinic.messages.staff_forms import lines
from clinic.patients.contact import contact
from clinic.patients.hints import Section
from clinic.patients.models import Patient


def _context(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    chosen = contact(patient)
    return {
        "patient": patient,
        "chosen": chosen,
        "lines": lines(chosen),
        "may_change": may(request.user, Capability.PATIENTS_WRITE, patient.site) and patient.died_on is None,
    }


CONTACT = Section("contact", "messages/staff/_section.html", _context, position=40)
