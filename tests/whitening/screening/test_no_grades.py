"""No grade, code or score in any page that a patient sees, whatever was answered, found, planned or decided."""

import re

import pytest
from django.urls import reverse

from tests.cast import Cast
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.models import Isolation
from whitening.screening.examination import ToothFinding, Trouble
from whitening.screening.grades import Grade
from whitening.screening.outcome import STATE_LABELS, State
from whitening.screening.questions import home_questions
from whitening.screening.rulebook import rules

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now", "quick_paper")]

WORST = {
    "medicines": ("amiodarone",),
    "reacted_to_peroxide": "yes",
    "reacted_to_resin": "yes",
    "pregnancy_may_apply": "yes",
    "pregnant": "unsure",
    "breastfeeding": "yes",
    "porphyria": "yes",
    "mouth_sore": "yes",
    "sensitivity": 9,
    "whitened_before": "yes",
    "whitened_last_on": "2026-01-31",
}
CODES = re.compile(r"\b[A-Z]{2,4}-\d{2}\b")
# A page's own furniture: addresses of style sheets, class names, the token against forged forms.
MARKUP = re.compile(r"<head>.*?</head>|<script.*?</script>|<[^>]*>", re.DOTALL)


def check(html: str) -> None:
    words = MARKUP.sub(" ", html)
    assert not CODES.search(html), CODES.findall(html)
    for one in rules().values():
        assert one.code not in html
        assert str(one.finding) not in words
        assert str(one.reason) not in words
    # “Stands” is an ordinary word as well.
    states = [label for state, label in STATE_LABELS.items() if state is not State.STANDS]
    for label in (*(grade.label for grade in Grade), *states):
        assert not re.search(rf"\b{re.escape(str(label))}\b", words), label
    for word in ("must_not", "not_yet", "with_care", "score", "grade", "risk level"):
        assert word not in words.lower(), word


def pages(cast: Cast, *, before_handing_in: bool) -> list[str]:
    phone = course.phone_of(cast, cast.patient.bookings.get())
    names = ["before_visit", "questions_done", "questions_thanks", "read_ahead", "sign", "sign_withdraw", "photographs"]
    addresses = [reverse(name) for name in names]
    if before_handing_in:
        addresses += [reverse("question", args=[question.id]) for question in home_questions(WORST)]  # type: ignore[arg-type]
    answers = [phone.get(address, follow=True) for address in addresses]
    assert {answer.status_code for answer in answers} <= {200, 404}
    return [answer.content.decode() for answer in answers]


def test_while_answering(cast: Cast) -> None:
    case = chairs.a_case(cast)
    course.visit_of(cast, case)
    for html in pages(cast, before_handing_in=True):
        check(html)


def test_after_everything(cast: Cast) -> None:
    case = chairs.a_case(cast)
    course.visit_of(cast, case)
    course.answered(cast, case, **WORST)  # type: ignore[arg-type]
    sick = ToothFinding("11", frozenset({Trouble.DECAY, Trouble.SICK_PULP}))
    course.examined(cast, case, teeth=(sick,), milk_teeth=("53",))
    for html in pages(cast, before_handing_in=False):
        check(html)


def test_while_signing_and_after(cast: Cast) -> None:
    case = chairs.a_case(cast)
    course.visit_of(cast, case)
    course.answered(cast, case, reacted_to_resin="yes", gums_bleed="yes")
    course.examined(cast, case)
    course.planned(cast, case, isolation=Isolation.RESIN_FREE)
    course.talked(cast, case)
    for html in pages(cast, before_handing_in=False):
        check(html)
    course.signed(cast, case)
    for html in pages(cast, before_handing_in=False):
        check(html)
