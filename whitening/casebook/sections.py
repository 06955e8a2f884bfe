"""The whitening part of a patient's page: the cases, and the way to open one."""

from typing import Any

from django.http import HttpRequest

from clinic.accounts.rights import Capability, may
from clinic.patients.hints import Section
from clinic.patients.models import Patient
from whitening.casebook.facts import stage_of
from whitening.cases.models import Case


def _context(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    cases = Case.objects.filter(patient=patient).select_related("site", "patient").order_by("-opened_at")
    return {
        "patient": patient,
        "cases": [(case, stage_of(case)) for case in cases],
        "may_open": may(request.user, Capability.CASE_OPEN, patient.site)
        and not any(case.closed_at is None for case in cases),
    }


CASES = Section("cases", "casebook_pages/_patient_section.html", _context)
