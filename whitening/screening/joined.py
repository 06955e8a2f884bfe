"""Two records were joined: what the other courses of this person brought up is read before anybody is treated.

The program judges each course by its own answers and examination. Where somebody was registered twice, though, a
dentist may never have seen what was said under the other record. So a signature that all was read counts only when
it was given after the records were joined; the page on which it is given lists the findings of the other courses, and
what is signed names them, so that nobody signs from a page that was opened before.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Exists, OuterRef, Q

from clinic.patients.models import Patient
from whitening.cases.models import Case
from whitening.cases.models.cases import CaseQuerySet
from whitening.screening.models import AnswerSet, AssessmentSignature, ExaminationRecord
from whitening.screening.outcome import Finding, Outcome
from whitening.screening.reading import outcome_of
from whitening.screening.signed import to_data


def with_joined(cases: CaseQuerySet) -> CaseQuerySet:
    """In the query that reads them anyway: whether another course waits to be read."""
    return cases.annotate(joined_unread=_unread())


def is_joined_unread(case: Case) -> bool:
    known: bool | None = getattr(case, "joined_unread", None)
    return Case.objects.filter(_unread(), pk=case.pk).exists() if known is None else known


def _unread() -> Q:
    read = AssessmentSignature.objects.filter(case=OuterRef(OuterRef("pk")), signed_at__gte=OuterRef("merged_at"))
    joined = Patient.objects.filter(~Exists(read), merged_into=OuterRef("patient"))
    return Q(Exists(joined)) & Q(Exists(_told().filter(patient=OuterRef("patient")).exclude(pk=OuterRef("pk"))))


def _told() -> CaseQuerySet:
    """Courses in which something was answered or looked at."""
    answered = AnswerSet.objects.filter(case=OuterRef("pk"))
    examined = ExaminationRecord.objects.filter(case=OuterRef("pk"))
    return Case.objects.filter(Exists(answered) | Exists(examined))


@dataclass(frozen=True, slots=True)
class OtherCourse:
    case: Case
    outcome: Outcome

    @property
    def findings(self) -> Sequence[Finding]:
        return self.outcome.findings


def other_courses(case: Case, *, today: date) -> list[OtherCourse]:
    """Of a person whose records were joined: the other courses, the newest first, each as its own page shows it.

    Empty where nothing was joined.
    """
    if not case.patient.aliases.exists():
        return []
    others = _told().filter(patient=case.patient).exclude(pk=case.pk).select_related("site", "patient")
    return [OtherCourse(one, outcome_of(one, today=today)) for one in others.order_by("-opened_at", "-pk")]


def to_sign(outcome: Outcome, others: Sequence[OtherCourse]) -> dict[str, Any]:
    """All that whoever signs has read: what this course came to, and what the page lists of the others."""
    return to_data(outcome, [(one.case.pk, one.outcome) for one in others])
