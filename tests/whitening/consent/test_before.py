"""What the page of a visit lists about consent: signing before a treatment, the paper, and always the way out of it."""

from datetime import timedelta

import pytest

from tests.cast import NOW, Cast, actor_of
from tests.whitening import course
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.consent.actions import withdraw
from whitening.consent.before import missing, todos

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


def test_who_withdrew_is_not_pressed_to_sign(cast: Cast) -> None:
    """Not before it was talked through once more: until then there is nothing that could be signed."""
    case = course.ready_to_sign(cast)
    course.signed(cast, case)
    withdraw(case=case, words="", actor=actor_of(cast.desk), now=NOW + timedelta(hours=2))
    assert titles(cast, case, VisitPurpose.SESSION) == [("own_quote", True), ("consent_paper", True)]
    course.talked(cast, case, now=NOW + timedelta(hours=3))
    assert ("sign", False) in titles(cast, case, VisitPurpose.SESSION)


@pytest.mark.parametrize("purpose", [VisitPurpose.CONSULTATION, VisitPurpose.SESSION, VisitPurpose.REVIEW])
@pytest.mark.parametrize("is_signed", [False, True])
def test_what_is_missing_is_the_same_for_one_visit_and_for_many(
    cast: Cast, purpose: VisitPurpose, *, is_signed: bool
) -> None:
    """Before a visit of a case that was talked through, of one that was not, and of none."""
    case = course.ready_to_sign(cast)
    if is_signed:
        course.signed(cast, case)
    visits = [course.visit_of(cast, case, starts_at=NOW + timedelta(days=days)) for days in (9, 10)]
    number = 1 if purpose == VisitPurpose.SESSION else None
    CaseVisit.objects.filter(booking=visits[0]).update(purpose=purpose, session_number=number)
    CaseVisit.objects.filter(booking=visits[1]).delete()
    signs = purpose != VisitPurpose.REVIEW and not is_signed
    assert missing(visits, NOW) == ({visits[0].pk} if signs else set())
    for one in visits:
        found = any(not todo.done for todo in todos(one, NOW) if not todo.is_offer)
        assert found == (one.pk in missing(visits, NOW))
