"""What is to be answered and read before a visit, asked of one visit and of a whole batch."""

from datetime import timedelta

import pytest

from tests.cast import NOW, Cast
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.screening.before import missing, todos
from whitening.screening.models import AnswerDraft

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("has_answered", [False, True])
@pytest.mark.parametrize("has_read", [None, False, True])
@pytest.mark.parametrize("purpose", [VisitPurpose.SESSION, VisitPurpose.REVIEW])
def test_what_is_missing_is_the_same_for_one_visit_and_for_many(
    cast: Cast, purpose: VisitPurpose, *, has_read: bool | None, has_answered: bool
) -> None:
    case = chairs.a_case(cast)
    if has_answered:
        course.answered(cast, case)
    AnswerDraft.objects.filter(case=case).delete()
    if has_read is not None:
        AnswerDraft.objects.create(case=case, questionnaire="1", read_ahead=has_read, changed_at=NOW)
    visits = [course.visit_of(cast, case, starts_at=NOW + timedelta(days=days)) for days in (9, 10)]
    number = 1 if purpose == VisitPurpose.SESSION else None
    CaseVisit.objects.filter(booking=visits[0]).update(purpose=purpose, session_number=number)
    CaseVisit.objects.filter(booking=visits[1]).delete()
    is_missing = purpose == VisitPurpose.SESSION and not (has_answered and has_read)
    assert missing(visits, NOW) == ({visits[0].pk} if is_missing else set())
    for one in visits:
        assert any(not todo.done for todo in todos(one, NOW)) == (one.pk in missing(visits, NOW))
