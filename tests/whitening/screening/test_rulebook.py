"""The rules as data, against the table of facts that they were written from."""

import re

import pytest

from tests.data import rows
from whitening.screening.examination import Item
from whitening.screening.grades import NEVER_OVERRIDABLE, AnsweredBy, Decider, Family, Grade, PlanChange, Quality
from whitening.screening.held import Held, held_by_gates
from whitening.screening.loader import Rule
from whitening.screening.questions import questionnaire
from whitening.screening.rulebook import RULES_VERSION, rule, rules

FACTS = {row["code"]: row for row in rows("screening_rules.csv")}
GRADES = {"stop": Grade.MUST_NOT, "defer": Grade.NOT_YET, "caution": Grade.WITH_CARE, "note": Grade.NOTE}
ALL = [pytest.param(found, id=found.code) for found in rules().values()]


def test_every_row_of_the_table_is_a_rule() -> None:
    assert len(FACTS) == 85
    assert len(rules()) == 83
    assert set(rules()) | set(held_by_gates()) == set(FACTS)
    assert not set(rules()) & set(held_by_gates())


@pytest.mark.parametrize("held", list(held_by_gates().values()), ids=list(held_by_gates()))
def test_what_a_gate_holds_is_graded_as_in_the_table(held: Held) -> None:
    row = FACTS[held.code]
    assert (held.grade, row["category"]) == (GRADES[row["grade"]], "consent")
    assert (held.quality is Quality.MEMORY) is row["retrieved_or_memory"].startswith("memory")
    assert str(held.how).strip(".").casefold() not in {text.strip(".").casefold() for text in row.values()}


def test_every_stop_of_the_table_is_there() -> None:
    stops = {code for code, row in FACTS.items() if row["grade"] == "stop"}
    assert len(stops) == 14
    assert stops == {found.code for found in rules().values() if found.grade is Grade.MUST_NOT}


@pytest.mark.parametrize("found", ALL)
def test_grade_answerer_family_and_light_as_in_the_table(found: Rule) -> None:
    row = FACTS[found.code]
    assert found.grade is GRADES[row["grade"]]
    assert found.answered_by == row["answered_by"]
    assert found.family == row["category"]
    assert found.lamp_only is (row["lamp_only"] == "yes")


@pytest.mark.parametrize("found", ALL)
def test_words_are_our_own(found: Rule) -> None:
    row = FACTS[found.code]
    theirs = {row[name].strip(".").casefold() for name in ("question_plain", "finding", "what_to_do", "rationale")}
    asked = [str(questionnaire().question(name).text) for name in found.asks]
    for ours in (str(found.reason), str(found.what_to_do), *asked):
        assert ours.strip(".").casefold() not in theirs


@pytest.mark.parametrize("found", ALL)
def test_waiting_times_as_in_the_table(found: Rule) -> None:
    """“28 to 56” is one matter with two pauses; “until treated” is an event and no number."""
    told = FACTS[found.code]["deferral_days_default"]
    days = [] if told.startswith("until") else [int(number) for number in re.findall(r"\d+", told)]
    # RES-03 is a pause before something else, counted from the last session: nothing waits for it.
    if not any(days) or found.family is Family.AGE or "after whitening" in told:
        assert not found.clears.waits
        return
    ours = list(found.clears.after_days_of.values()) or [found.clears.after_days or 0]
    assert sorted(ours) == sorted(days)
    assert found.clears.interval_quality in {Quality.MEMORY, Quality.COMMON_PRACTICE}


@pytest.mark.parametrize("found", ALL)
def test_what_came_from_memory_says_so(found: Rule) -> None:
    if FACTS[found.code]["retrieved_or_memory"] == "memory":
        assert found.quality is Quality.MEMORY
    assert str(found.quality.label)


def test_law_age_and_consent_are_nobodys_to_decide() -> None:
    fixed = {found.code for found in rules().values() if found.never_overridable}
    assert fixed == {"LAW-01", "LAW-02", "LAW-03", "AGE-01", "AGE-02", "AGE-03", "CON-01"}
    assert {rule(code).clears.decided_by for code in fixed} == {Decider.NOBODY}
    assert {Family.LAW, Family.AGE, Family.CONSENT} == NEVER_OVERRIDABLE


def test_which_findings_a_plan_can_end() -> None:
    assert {found.code: found.clears.by_plan for found in rules().values() if found.clears.by_plan} == {
        "ALG-02": PlanChange.RESIN_FREE,
        "LGT-04": PlanChange.NO_LIGHT,
        "LGT-05": PlanChange.NO_LIGHT,
        "LGT-06": PlanChange.NO_LIGHT,
        "LGT-07": PlanChange.NO_LIGHT,
        "LGT-08": PlanChange.NO_LIGHT,
        "LGT-09": PlanChange.NO_LIGHT,
        "CRK-01": PlanChange.TEETH_LEFT_OUT,
        "DEN-02": PlanChange.TEETH_LEFT_OUT,
    }


def test_which_findings_end_by_a_date_alone() -> None:
    by_date = {found.code for found in rules().values() if found.clears.by_date}
    assert by_date == {"AGE-01", "AGE-02", "RES-04", "PRV-01", "PRV-03", "ORT-01", "HYG-02", "EPI-01"}


def test_every_question_and_every_item_is_used_by_a_rule() -> None:
    """Nothing is asked or looked at without a reason."""
    assert {question.id for question in questionnaire().questions} == {
        name for found in rules().values() for name in found.asks
    }
    assert {found.looks_at for found in rules().values() if found.looks_at} == set(Item)


def test_a_pause_by_the_answer_names_an_answer() -> None:
    for found in rules().values():
        offered = {value for name in found.asks for value, _text in questionnaire().question(name).choices}
        assert set(found.clears.after_days_of) <= offered


def test_version_names_every_family() -> None:
    assert RULES_VERSION.split() == sorted(f"{family}:1" for family in Family)


def test_labels() -> None:
    assert [str(grade.label) for grade in sorted(Grade, reverse=True)] == ["Must not", "Not yet", "With care", "Note"]
    assert all(str(family.label) for family in Family)
    assert rule("ALG-01").answered_by is AnsweredBy.PATIENT
