"""The whitening part of a patient's page: the cases, and the way to open one."""

from typing import Any

from django.http import HttpRequest

from clinic.accounts.rights import Capability, may
from clinic.patients.hints import Section
from clinic.patients.models import Patient
from whitening.casebook.facts import stages_of
from whitening.casebook.stage import Stage
from whitening.cases.models import Case


def _context(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    cases = list(Case.objects.filter(patient=patient).select_related("site").order_by("-opened_at"))
    stages = stages_of([case.pk for case in cases])
    none_open = all(case.closed_at is not None for case in cases)
    # Of somebody who died the pages behind the keys only say so.
    lives = patient.died_on is None
    return {
        "patient": patient,
        "cases": [(case, stages[case.pk]) for case in cases],
        "joined_answers": patient.aliases.exists() and any(stages[case.pk] is not Stage.ENQUIRY for case in cases),
        "may_open": lives and none_open and may(request.user, Capability.CASE_OPEN, patient.site),
        "may_book": lives and may(request.user, Capability.DIARY_BOOK, patient.site),
    }


CASES = Section("cases", "casebook_pages/_patient_section.html", _context, position=10)
