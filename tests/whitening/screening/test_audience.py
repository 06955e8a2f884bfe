"""The desk learns one of four things, never why; the patient reads the same words whatever the outcome is."""

import re
from datetime import date
from typing import Any

import pytest
from hypothesis import given

from tests.whitening.screening.someone import PLAN, decide, finding, outcome, said
from tests.whitening.screening.test_properties import ANSWERS, EXAMINATIONS, MANY, PLANS, Said
from whitening.screening.audience import DeskLine, DeskMark, desk_lines, thanks_words
from whitening.screening.decisions import DecisionKind
from whitening.screening.examination import Examination
from whitening.screening.facts import ConsentFacts, PatientFacts, PlanFacts
from whitening.screening.outcome import State

FOUR = re.compile(r"Answers missing|Dentist to decide|Not before [A-Z][a-z]{2} \d{1,2} \w{3} \d{4}|Not going ahead")


def lines(**facts: Any) -> list[str]:
    return [str(line) for line in desk_lines(outcome(**facts))]


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({}, []),
        ({"answers": None}, ["Answers missing", "Dentist to decide"]),
        ({"answers": said(cold_sore=None)}, ["Answers missing"]),
        ({"answers": said(reacted_to_peroxide="yes")}, ["Dentist to decide"]),
        ({"answers": said(pregnancy_may_apply="in_private")}, ["Dentist to decide"]),
        ({"examination": None}, ["Dentist to decide"]),
        ({"answers": said(sensitivity=5)}, ["Dentist to decide", "Not before Sun 15 Mar 2026"]),
        # Its event is the date itself, so nobody has to decide.
        (
            {"answers": said(whitened_before="yes", whitened_last_on=date(2026, 1, 31))},
            ["Not before Thu 30 Jul 2026"],
        ),
        ({"answers": said(whitened_before="unsure")}, ["Dentist to decide"]),
        ({"patient": PatientFacts(date(2009, 8, 12))}, ["Not before Thu 12 Aug 2027"]),
        (
            {"answers": said(cold_sore="yes", toothache=None), "examination": None},
            ["Answers missing", "Dentist to decide", "Not before Wed 11 Mar 2026"],
        ),
        # What the program itself waits for is no matter of the desk.
        ({"plan": None}, []),
        ({"consent": ConsentFacts(None)}, ["Dentist to decide"]),
    ],
)
def test_what_the_desk_may_see(facts: dict[str, Any], words: list[str]) -> None:
    assert lines(**facts) == words


def test_not_going_ahead_is_a_clinicians_word() -> None:
    facts: dict[str, Any] = {"answers": said(reacted_to_peroxide="yes", medicines=None)}
    assert lines(**facts) == ["Answers missing", "Dentist to decide"]
    decision = decide(finding(outcome(**facts), "ALG-01"), DecisionKind.STANDS)
    assert lines(**facts, decisions=[decision]) == ["Not going ahead"]


def test_a_deferral_that_stands_is_not_the_end() -> None:
    facts: dict[str, Any] = {"answers": said(sensitivity=5)}
    decision = decide(finding(outcome(**facts), "SEN-02"), DecisionKind.STANDS)
    assert lines(**facts, decisions=[decision]) == ["Dentist to decide", "Not before Sun 15 Mar 2026"]


def test_nor_is_a_must_not_that_the_plan_leaves_out() -> None:
    facts: dict[str, Any] = {"answers": said(skin_cancer="yes")}
    decision = decide(finding(outcome(**facts), "LGT-07"), DecisionKind.STANDS)
    assert lines(**facts, decisions=[decision]) == ["Not going ahead"]
    dark = PlanFacts(**{name: getattr(PLAN, name) for name in PLAN.__slots__} | {"uses_light": False})
    assert lines(**facts, plan=dark, decisions=[decision]) == []


@MANY
@given(ANSWERS, EXAMINATIONS, PLANS)
def test_never_a_reason_and_never_nothing_when_something_blocks(
    answers: Said, examination: Examination | None, plan: PlanFacts
) -> None:
    result = outcome(answers=said(**answers), examination=examination, plan=plan)
    shown = desk_lines(result)
    assert all(FOUR.fullmatch(str(line)) for line in shown)
    assert bool(shown) is not result.clear


def test_desk_lines_say_no_more_than_their_mark() -> None:
    assert DeskLine(DeskMark.NOT_BEFORE, date(2026, 3, 14)) == DeskLine(DeskMark.NOT_BEFORE, date(2026, 3, 14))
    assert str(DeskLine(DeskMark.NOT_BEFORE, date(2026, 3, 4))) == "Not before Wed 4 Mar 2026"


def test_the_patient_reads_the_same_whatever_comes_out() -> None:
    assert [str(sentence) for sentence in thanks_words(call_by="Mon 9 Mar 2026", phone="01632 960123")] == [
        "Thank you. A dentist reads your answers before your visit. Nothing is decided yet.",
        "If your date may have to change, we will call you by Mon 9 Mar 2026.",
        "Worried about something now? Call 01632 960123.",
    ]


def test_labels_of_states_and_decisions() -> None:
    assert [str(state.label) for state in State] == [
        "stands",
        "the plan leaves it out",
        "examined since",
        "cleared by decision",
    ]
    assert [str(kind.label) for kind in DecisionKind] == [
        "may go on",
        "examined, and not so",
        "stands: not going ahead",
    ]
