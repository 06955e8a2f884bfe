"""The rules as data, against the table of facts that they were written from."""

import pytest

from tests.data import rows
from whitening.screening.examination import Item
from whitening.screening.grades import NEVER_OVERRIDABLE, AnsweredBy, Decider, Family, Grade, PlanChange, Quality
from whitening.screening.loader import Rule
from whitening.screening.questions import questionnaire
from whitening.screening.rulebook import RULES_VERSION, rule, rules

FACTS = {row["code"]: row for row in rows("screening_rules.csv")}
GRADES = {"stop": Grade.MUST_NOT, "defer": Grade.NOT_YET, "caution": Grade.WITH_CARE, "note": Grade.NOTE}
FIRST_SET = {
    "LAW-01",
    "LAW-02",
    "AGE-01",
    "AGE-03",
    "ALG-01",
    "ALG-02",
    "MET-01",
    "MUC-02",
    "LGT-01",
    "LGT-02",
    "LGT-03",
    "LGT-07",
    "LGT-09",
    "CON-01",
    "LAW-03",
    "AGE-02",
    "PRG-01",
    "PRG-02",
    "MED-01",
    "CAR-01",
    "RES-01",
    "RES-04",
    "CRK-01",
    "DEN-02",
    "PUL-01",
    "PER-01",
    "PER-02",
    "MUC-01",
    "HSV-01",
    "SEN-02",
    "PRV-01",
    "PRV-03",
    "HYG-01",
    "RES-02",
    "RES-03",
    "RES-05",
    "RES-06",
    "CRK-02",
    "DEN-01",
    "PUL-02",
    "STN-02",
    "STN-03",
    "STN-04",
    "STN-05",
    "LIP-01",
}
ALL = [pytest.param(found, id=found.code) for found in rules().values()]


def test_the_first_set() -> None:
    assert set(rules()) == FIRST_SET
    assert len(FIRST_SET) == 45


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
    days = FACTS[found.code]["deferral_days_default"]
    if days.isdigit() and int(days) and found.code != "AGE-02":
        assert found.clears.after_days == int(days)
        assert found.clears.interval_quality in {Quality.MEMORY, Quality.COMMON_PRACTICE}
    else:
        assert found.clears.after_days is None


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
        "LGT-07": PlanChange.NO_LIGHT,
        "LGT-09": PlanChange.NO_LIGHT,
        "CRK-01": PlanChange.TEETH_LEFT_OUT,
        "DEN-02": PlanChange.TEETH_LEFT_OUT,
    }


def test_which_findings_end_by_a_date_alone() -> None:
    by_date = {found.code for found in rules().values() if found.clears.by_date}
    assert by_date == {"AGE-01", "AGE-02", "RES-04", "PRV-01", "PRV-03"}


def test_every_question_and_every_item_is_used_by_a_rule() -> None:
    """Nothing is asked or looked at without a reason."""
    assert {question.id for question in questionnaire().questions} == {
        name for found in rules().values() for name in found.asks
    }
    assert {found.looks_at for found in rules().values() if found.looks_at} == set(Item)


def test_version_names_every_family() -> None:
    assert RULES_VERSION.split() == sorted(f"{family}:1" for family in Family)


def test_labels() -> None:
    assert [str(grade.label) for grade in sorted(Grade, reverse=True)] == ["Must not", "Not yet", "With care", "Note"]
    assert all(str(family.label) for family in Family)
    assert rule("ALG-01").answered_by is AnsweredBy.PATIENT
