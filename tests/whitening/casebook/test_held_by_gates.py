"""Rows of the rule set that are no findings: the gates that are named for them hold them, whoever asks."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from tests.cast import NOW, Cast
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.casebook.test_gates import READY, YESTERDAY
from tests.whitening.chairside import chairs
from whitening.casebook.gates import GATES, asked_again, consent, questions
from whitening.consent.actions.signing import CannotSign
from whitening.consent.actions.talking import InterpreterWanted
from whitening.consent.models import Signature, Talk
from whitening.consent.reading import standing
from whitening.screening.held import held_by_gates
from whitening.screening.validity import answers_in_date

BY_NAME = {gate.__name__: gate for gate in GATES}


def test_each_names_gates_that_there_are() -> None:
    named = {code: [BY_NAME[name] for name in held.gates] for code, held in held_by_gates().items()}
    assert named == {"CON-02": [consent], "CON-03": [questions, asked_again]}


def test_old_answers_are_asked_anew() -> None:
    """CON-03: 30 days; no decision about a finding opens this gate."""
    day = READY.today
    assert answers_in_date(given_on=day - timedelta(days=30), today=day)
    assert not answers_in_date(given_on=day - timedelta(days=31), today=day)
    assert questions(replace(READY, answers_in_date=False, findings_cleared_by=("Ada, dentist",))).is_shut


@pytest.mark.parametrize("asked_on", [None, YESTERDAY])
def test_the_list_of_the_day_is_gone_through_on_the_day(asked_on: object) -> None:
    """CON-03."""
    assert asked_again(replace(READY, asked_again_on=asked_on)).is_shut  # type: ignore[arg-type]
    assert asked_again(replace(READY, new_to_decide=True)).is_shut
    assert not asked_again(READY).is_shut


@pytest.mark.django_db
@pytest.mark.usefixtures("at_now", "quick_paper")
def test_nothing_starts_without_an_interpreter_who_is_wanted_or_for_somebody_who_cannot_decide(cast: Cast) -> None:
    """CON-02: there is no talk, so no signature, and without one the gate is shut."""
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case)
    course.planned(cast, case)
    cast.patient.needs_interpreter, cast.patient.interpreter_language = True, "Igbo"
    cast.patient.save()
    with nothing_written(), pytest.raises(InterpreterWanted):
        course.talked(cast, case)
    assert not Talk.objects.exists()
    interpreted: dict[str, Any] = {
        "interpreter": "phone",
        "interpreter_name": "Mina Okafor",
        "interpreter_language": "Igbo",
    }
    course.talked(cast, case, can_decide=False, **interpreted)
    with pytest.raises(CannotSign):
        course.signed(cast, case)
    assert not Signature.objects.exists()
    signed = standing(case).signed_this_plan
    assert consent(replace(READY, signed_this_plan=signed)).is_shut
    assert NOW.date() == READY.today
