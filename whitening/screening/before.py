"""What the patient still has to do before a visit, as the page of the visit lists it."""

from collections.abc import Collection
from datetime import datetime

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext_lazy as _

from clinic.diary.before import ToDo
from clinic.diary.models import Booking
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.screening.models import AnswerDraft, AnswerSet

# Somebody well, at an unhurried pace: 150 words a minute and 6 seconds a page to choose; common practice, no source.
MINUTES_TO_ANSWER = 10
MINUTES_TO_READ = 3
_PURPOSES = (VisitPurpose.CONSULTATION, VisitPurpose.SESSION)


def todos(booking: Booking, now: datetime) -> list[ToDo]:
    """Questions and reading ahead, for consultations and sessions of an open case."""
    case = Case.objects.open().filter(visits__booking=booking, visits__purpose__in=_PURPOSES).first()
    if case is None:
        return []
    draft = AnswerDraft.objects.filter(case=case).first()
    answered = case.answer_sets.exists()
    return [
        ToDo(_("Answer the health questions"), "questions", MINUTES_TO_ANSWER, answered),
        ToDo(_("Read what whitening is"), "read_ahead", MINUTES_TO_READ, bool(draft and draft.read_ahead)),
    ]


def missing(bookings: Collection[Booking], now: datetime) -> Collection[int]:
    """The visits before which one of these is not done."""
    visits = CaseVisit.objects.filter(booking__in=bookings, purpose__in=_PURPOSES, case__closed_at=None)
    answered = Exists(AnswerSet.objects.filter(case=OuterRef("case")))
    has_read = Exists(AnswerDraft.objects.filter(case=OuterRef("case"), read_ahead=True))
    return set(visits.exclude(answered & has_read).values_list("booking", flat=True))
