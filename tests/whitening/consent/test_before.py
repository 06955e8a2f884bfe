"""What the page of a visit lists about consent: signing before a treatment, the paper, and always the way out of it."""

from datetime import timedelta

import pytest

from tests.cast import NOW, Cast
from tests.whitening import course
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.consent.before import todos

pytestmark = pytest.mark.django_db


def titles(cast: Cast, case: Case, purpose: VisitPurpose) -> list[tuple[str, bool]]:
    booking = course.visit_of(cast, case, starts_at=NOW + timedelta(days=9))
    number = 1 if purpose == VisitPurpose.SESSION else None
    CaseVisit.objects.filter(booking=booking).update(purpose=purpose, session_number=number)
    return [(todo.url_name, todo.is_offer) for todo in todos(booking, NOW + timedelta(hours=2))]


@pytest.mark.parametrize("purpose", [VisitPurpose.CONSULTATION, VisitPurpose.SESSION])
def test_it_works(cast: Cast, purpose: VisitPurpose) -> None:
    case = course.ready_to_sign(cast)
    assert titles(cast, case, purpose) == [("sign", False), ("own_quote", True)]


def test_a_review_asks_for_no_signature_and_keeps_the_way_out(cast: Cast) -> None:
    case = course.ready_to_sign(cast)
    assert titles(cast, case, VisitPurpose.REVIEW) == []
    course.signed(cast, case)
    assert titles(cast, case, VisitPurpose.REVIEW) == [("consent_paper", True), ("sign_withdraw", True)]
