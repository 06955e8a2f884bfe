"""Later answers never overwrite: at each moment the page shows what was known then, and nothing learned afterwards."""

from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.papers import filed
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.screening.test_letters import wrote
from whitening.cases.models import Case
from whitening.screening.actions import attach_reply, decide
from whitening.screening.decisions import DecisionKind
from whitening.screening.examination import Gums, ToothFinding, Trouble
from whitening.screening.history import known_at, moments
from whitening.screening.reading import outcome_of
from whitening.screening.signed import of_the_body

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]
LATER, LAST = NOW + timedelta(days=3), NOW + timedelta(days=9)
CRAZED = (ToothFinding("11", frozenset({Trouble.CRAZE_LINES})),)


@pytest.fixture
def case(cast: Cast) -> Case:
    """Answered and examined; three days later gums bleed; on the ninth day they are well and a plan is made."""
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case, teeth=CRAZED)
    course.examined(cast, case, now=LATER, teeth=CRAZED, gums=Gums(inflamed=True))
    course.examined(cast, case, now=LAST)
    course.planned(cast, case, now=LAST)
    return case


def shown(cast: Cast, case: Case, moment: int | str = "") -> Answer:
    return sign_in(cast.clinician).get(reverse("known", args=[case.pk]), {"moment": moment} if moment else {})


def codes(case: Case, at: datetime) -> set[str]:
    return {finding.rule.code for finding in known_at(case, at).outcome.findings}


def test_it_works(cast: Cast, case: Case) -> None:
    assert [one.at for one in moments(case)][-2:] == [LATER, LAST]
    assert moments(case)[-1].happened == ("Examination by Cleo Haddad", "Plan 1 by Cleo Haddad")
    assert shown(cast, case).status_code == 200


@pytest.mark.usefixtures("quick_paper")
def test_letters_and_their_answers_are_named(cast: Cast) -> None:
    held = chairs.a_case(cast)
    course.answered(cast, held, porphyria="yes")
    asked = wrote(cast, held)
    paper = filed(cast.patient, cast.desk)
    attach_reply(letter=asked, paper=paper, user=cast.desk, actor=actor_of(cast.desk), now=LATER)
    happened = [words for one in moments(held) for words in one.happened]
    assert "Letter to Dr Ilse Aumann, by Cleo Haddad" in happened
    assert moments(held)[-1].at == LATER
    assert moments(held)[-1].happened == ("Answer of Dr Ilse Aumann to the letter to Dr Ilse Aumann filed",)


def test_nothing_learned_afterwards_is_in_it(cast: Cast, case: Case) -> None:
    assert codes(case, NOW) < codes(case, LATER)
    assert codes(case, LAST) < codes(case, NOW)
    # The last moment is what stands now.
    now = of_the_body(outcome_of(case, today=LAST.date()))
    assert codes(case, LAST) == {finding.rule.code for finding in now.findings}
    assert known_at(case, NOW).plan is None
    assert known_at(case, NOW - timedelta(seconds=1)).answers is None


def test_the_page_names_what_came_and_went(cast: Cast, case: Case) -> None:
    count = len(moments(case))
    came = shown(cast, case, count - 1)
    assert [str(line.finding) for line in came.context["came"]] == ["Inflamed gums"]
    assert came.context["went"] == []
    page = shown(cast, case)
    assert page.context["came"] == []
    assert "Inflamed gums" in [str(line.finding) for line in page.context["went"]]
    assert "no longer so" in page.content.decode()


def test_a_decision_changes_how_a_finding_stands(cast: Cast, case: Case) -> None:
    course.examined(cast, case, now=LAST, teeth=CRAZED)
    finding = next(one for one in outcome_of(case, today=LAST.date()).findings if one.teeth)
    at = LAST + timedelta(minutes=5)
    decide(
        case=case, rule=finding.rule.code, basis=finding.basis, kind=DecisionKind.CLEARED, reason="Looked at.",
        evidence="", user=cast.clinician, actor=actor_of(cast.clinician), now=at,
    )  # fmt: skip
    before, after = (known_at(case, moment).outcome for moment in (LAST, at))
    assert {one.rule.code: one.state for one in before.findings} != {one.rule.code: one.state for one in after.findings}


def test_the_queries_do_not_grow_with_the_moments(cast: Cast, case: Case) -> None:
    with CaptureQueriesContext(connection) as few:
        assert (len(moments(case)) > 2, known_at(case, LAST).plan is None) == (True, False)
    for hours in range(1, 6):
        course.examined(cast, case, now=LAST + timedelta(hours=hours))
    with CaptureQueriesContext(connection) as many:
        assert (len(moments(case)) > 6, known_at(case, LAST + timedelta(hours=9)).plan is None) == (True, False)
    assert len(many) == len(few)


@pytest.mark.parametrize("moment", ["0", "99", "-1", "x", "9" * 40])
def test_a_moment_that_is_none(cast: Cast, case: Case, moment: str) -> None:
    assert shown(cast, case, moment).status_code == 404


def test_before_anything_is_known(cast: Cast) -> None:
    page = shown(cast, chairs.a_case(cast))
    assert "Nothing has been answered, seen or planned yet." in page.content.decode()
