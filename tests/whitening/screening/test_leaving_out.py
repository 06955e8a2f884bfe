"""Teeth that the examination says to leave out stand ticked in a new plan, and are named where a plan treats them."""

from datetime import timedelta

import pytest
from django.urls import reverse

from tests.cast import NOW, Cast, sign_in
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.models import Case
from whitening.screening.examination import LEFT_OUT, ToothFinding, Trouble

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]
FOUND = (
    ToothFinding("21", frozenset({Trouble.DARK_TOOTH, Trouble.CRAZE_LINES})),
    ToothFinding("11", frozenset({Trouble.PAINFUL_CRACK})),
    # Decay is treated first; nobody whitens a second molar.
    ToothFinding("12", frozenset({Trouble.DECAY})),
    ToothFinding("17", frozenset({Trouble.BARE_DENTINE_NOT_COVERABLE})),
)


@pytest.fixture
def case(cast: Cast) -> Case:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case, teeth=FOUND)
    return case


def page(cast: Cast, case: Case) -> str:
    return sign_in(cast.clinician).get(reverse("plan", args=[case.pk])).content.decode()


def ticked(page: str) -> list[str]:
    boxes = [box for box in page.split("<input") if 'name="teeth_left_out"' in box.split(">")[0]]
    return [box.split('value="')[1][:2] for box in boxes if "checked" in box.split(">")[0]]


def test_a_new_plan_starts_without_them_and_says_why(cast: Cast, case: Case) -> None:
    shown = page(cast, case)
    assert ticked(shown) == ["11", "21"]
    assert "since the examination found it: 11, upper right central incisor: crack or fracture that hurts" in shown
    assert "12, upper right lateral incisor: untreated decay" in shown
    assert "Examined, and still treated" not in shown


def test_a_changed_plan_keeps_its_own_and_names_what_it_still_treats(cast: Cast, case: Case) -> None:
    course.planned(cast, case, teeth_left_out=("11", "41"))
    shown = page(cast, case)
    assert ticked(shown) == ["11", "41"]
    treated = shown.split("still treated in this plan:")[1].split("</ul>")[0]
    assert "fine cracks that do not hurt, darker than its neighbours" in treated
    assert treated.count("<li>") == 1
    course.examined(cast, case, now=NOW + timedelta(minutes=5))
    assert "still treated in this plan" not in page(cast, case)


def test_nothing_is_ticked_where_nothing_was_found(cast: Cast) -> None:
    case = chairs.a_case(cast)
    assert ticked(page(cast, case)) == []
    course.answered(cast, case)
    course.examined(cast, case)
    shown = page(cast, case)
    assert ticked(shown) == []
    assert "since the examination" not in shown


def test_illness_is_treated_and_not_left_out() -> None:
    ill = {Trouble.DECAY, Trouble.FAULTY_RESTORATION, Trouble.SICK_PULP}
    assert not ill & LEFT_OUT
