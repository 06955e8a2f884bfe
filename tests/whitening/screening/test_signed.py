"""A clinician signs what was read; it stays what was known then, whatever is learned later."""

import hashlib
import json
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.actions import CaseClosed, close_case
from whitening.cases.models import Case, CloseReason, PlannedLight
from whitening.screening.actions import sign_assessment
from whitening.screening.examination import Gums, ToothFinding, Trouble
from whitening.screening.models import AssessmentSignature
from whitening.screening.reading import outcome_of
from whitening.screening.signed import digest, to_data

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]
CRAZED = (ToothFinding("11", frozenset({Trouble.CRAZE_LINES})),)


@pytest.fixture
def case(cast: Cast) -> Case:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case, teeth=CRAZED)
    return case


@pytest.fixture
def dentist(cast: Cast) -> Client:
    return sign_in(cast.clinician)


def shown(client: Client, case: Case) -> str:
    return client.get(reverse("assessment", args=[case.pk])).content.decode()


def seen_on(page: str) -> str:
    return page.split('name="seen" value="')[1].split('"', maxsplit=1)[0]


def sign(client: Client, case: Case, seen: str) -> Answer:
    return client.post(reverse("assessment_sign", args=[case.pk]), {"seen": seen})


def test_it_works(cast: Cast, case: Case, dentist: Client) -> None:
    page = shown(dentist, case)
    assert "Nobody has signed" not in page
    assert sign(dentist, case, seen_on(page))["Location"] == reverse("assessment", args=[case.pk])
    row = AssessmentSignature.objects.get()
    assert (row.signed_by, row.signed_at, row.profession) == (cast.clinician, NOW, "dentist")
    # RFC 8259 JSON, its keys sorted: anybody can count the digest over again.
    plain = json.dumps(row.outcome, sort_keys=True, ensure_ascii=False).encode()
    assert row.sha256 == hashlib.sha256(plain).hexdigest()
    assert [(one["rule"], one["state"], one["teeth"]) for one in row.outcome["findings"]] == [
        ("CRK-02", "stands", ["11"])
    ]
    assert TrailEntry.objects.filter(verb="screening.assessment_signed").count() == 1
    page = shown(dentist, case)
    assert "as it stands now" in page
    assert "Sign as read" not in page


def test_what_was_known_then_stays_readable(cast: Cast, case: Case, dentist: Client) -> None:
    sign(dentist, case, seen_on(shown(dentist, case)))
    course.examined(cast, case, now=NOW + timedelta(minutes=5), gums=Gums(inflamed=True))
    page = shown(dentist, case)
    assert "Something has changed since it was signed." in page
    then = page.split("what was known then")[1].split("</details>")[0]
    assert "Fine cracks that do not hurt" in then
    sign(dentist, case, seen_on(page))
    assert AssessmentSignature.objects.count() == 2
    page = shown(dentist, case)
    assert page.index("as it stands now") < page.index("what was known then")


def test_a_page_that_is_out_of_date_signs_nothing(cast: Cast, case: Case, dentist: Client) -> None:
    seen = seen_on(shown(dentist, case))
    course.examined(cast, case, now=NOW + timedelta(minutes=5))
    with nothing_written():
        refused = sign(dentist, case, seen)
    assert refused.status_code == 409
    assert "Something has changed since you loaded the page." in refused.content.decode()


def test_not_before_everything_is_known(cast: Cast, dentist: Client) -> None:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    page = shown(dentist, case)
    assert "Sign as read" not in page
    with nothing_written():
        refused = sign(dentist, case, digest(to_data(outcome_of(case, today=NOW.date()))))
    assert refused.status_code == 409
    assert "not looked at yet" in refused.content.decode()


@pytest.mark.parametrize("who", ["desk", "assistant", "hygienist", "manager"])
def test_wrong_role(cast: Cast, case: Case, who: str) -> None:
    seen = digest(to_data(outcome_of(case, today=NOW.date())))
    client = sign_in(getattr(cast, who))
    with nothing_written():
        assert sign(client, case, seen).status_code == 403


def test_not_in_a_closed_case(cast: Cast, case: Case) -> None:
    seen, dentist = digest(to_data(outcome_of(case, today=NOW.date()))), actor_of(cast.clinician)
    close_case(case=case, reason=CloseReason.PATIENT_ENDED, words="", actor=dentist, now=NOW)
    with nothing_written(), pytest.raises(CaseClosed):
        sign_assessment(case=case, seen=seen, user=cast.clinician, actor=dentist, now=NOW)


@pytest.mark.parametrize(("said", "ends"), [({}, False), ({"skin_cancer": "yes"}, True)], ids=["nothing", "lamp"])
def test_what_a_plan_without_the_light_would_end(cast: Cast, dentist: Client, said: Any, ends: bool) -> None:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case)
    course.planned(cast, case, light=PlannedLight.ARCH)
    later = NOW + timedelta(minutes=5)
    course.answered(cast, case, now=later, **said)
    page = shown(dentist, case)
    assert ("A plan that uses no light would end:" in page) is ends
    assert ("a plan without a light ends it" in page) is ends
    dark = outcome_of(case, today=NOW.date(), light_off=True)
    assert [one.rule.code for one in dark.in_force if one.rule.lamp_only] == []
