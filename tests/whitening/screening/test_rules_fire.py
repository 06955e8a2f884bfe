"""Every rule fires on its trigger, alone, and not beside it."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from tests.whitening.screening.someone import (
    IN_PRIVATE_WELL,
    SIGNED,
    UK,
    US,
    codes,
    exam,
    finding,
    open_codes,
    outcome,
    plan,
    said,
    tooth_with,
)
from tests.whitening.screening.test_rules_looks import TABLE as LOOKS
from tests.whitening.screening.triggers import TABLE
from tests.whitening.screening.triggers.system import SIXTEEN
from whitening.screening.examination import Item, Trouble
from whitening.screening.facts import ConsentFacts, PatientFacts
from whitening.screening.grades import AnsweredBy, Grade
from whitening.screening.outcome import Standing
from whitening.screening.rulebook import rules
from whitening.screening.rules import PREDICATES
from whitening.screening.rules.readings import fires


@pytest.mark.parametrize(("code", "trigger", "beside"), TABLE, ids=[row[0] for row in TABLE])
def test_fires_on_its_trigger_and_not_beside_it(code: str, trigger: dict[str, Any], beside: dict[str, Any]) -> None:
    fired = outcome(**trigger)
    assert codes(fired) == [code]
    assert finding(fired, code).in_force
    assert fired.worst is rules()[code].grade
    assert fired.clear is (rules()[code].grade < Grade.NOT_YET)
    assert codes(outcome(**beside)) == []
    assert outcome(**beside).standing is Standing.CLEAR


def test_every_rule_has_a_row_and_a_function() -> None:
    looks = {row[0] for row in LOOKS}
    assert sorted({row[0] for row in TABLE} | looks) == sorted(rules()) == sorted(PREDICATES)


def test_a_row_has_one_function() -> None:
    with pytest.raises(ValueError, match="ALG-01 has two functions"):
        fires("ALG-01")(PREDICATES["ALG-02"])
    assert PREDICATES["ALG-01"] is not PREDICATES["ALG-02"]


def test_a_healthy_adult_is_clear() -> None:
    result = outcome()
    assert (result.findings, result.unanswered) == ((), ())
    assert (result.standing, result.worst, result.clear) == (Standing.CLEAR, None, True)


# The patient's word brings these up before anybody has looked; "not sure" does as well.
WORDS_FIRST = [
    ("RES-04", "filling_lately", Item.RESTORATIONS),
    ("CRK-01", "hurts_on_biting", Item.CRACKS),
    ("PUL-01", "toothache", Item.PULP),
    ("PER-01", "gums_bleed", Item.GUMS),
    ("PER-02", "gum_disease", Item.GUMS),
    ("MUC-01", "mouth_sore", Item.SOFT_TISSUE),
    ("MUC-02", "mouth_cancer", Item.SOFT_TISSUE),
    ("HSV-01", "cold_sore", Item.LIPS),
]


@pytest.mark.parametrize("reply", ["yes", "unsure"])
@pytest.mark.parametrize(("code", "question", "item"), WORDS_FIRST, ids=[row[0] for row in WORDS_FIRST])
def test_the_patients_word_is_enough_until_somebody_looks(code: str, question: str, item: Item, reply: str) -> None:
    result = outcome(answers=said(**{question: reply}), examination=exam(looked_at=frozenset(Item) - {item}))
    assert finding(result, code).in_force
    assert finding(result, code).basis == f"{question}={reply}@2026-03-01T18:30:00+00:00"


@pytest.mark.parametrize(("code", "question", "item"), WORDS_FIRST, ids=[row[0] for row in WORDS_FIRST])
def test_an_open_question_is_never_a_no(code: str, question: str, item: Item) -> None:
    result = outcome(answers=said(**{question: None}))
    assert open_codes(result) == [code]
    assert [unanswered.waits_for for unanswered in result.unanswered] == [AnsweredBy.PATIENT]
    assert (result.standing, result.clear) == (Standing.NOT_CLEARED, False)


@pytest.mark.parametrize(
    ("item", "waiting"),
    [
        (Item.DECAY, ["CAR-01"]),
        (Item.RESTORATIONS, ["RES-01", "RES-02", "RES-03", "RES-04", "RES-05", "RES-06"]),
        (Item.CRACKS, ["CRK-01", "CRK-02"]),
        (Item.DENTINE, ["DEN-01", "DEN-02"]),
        (Item.ENAMEL, ["STN-02", "STN-03"]),
        (Item.COLOUR, ["PUL-02", "STN-04", "STN-05"]),
        (Item.PULP, ["PUL-01"]),
        (Item.MILK_TEETH, ["AGE-03"]),
        (Item.GUMS, ["PER-01", "PER-02"]),
        (Item.SOFT_TISSUE, ["MUC-01", "MUC-02"]),
        (Item.DEPOSITS, ["HYG-01"]),
        # Of a cold sore and of medicines the patient's no is enough.
        (Item.LIPS, ["LIP-01"]),
        (Item.MEDICINES, []),
    ],
)
def test_what_was_not_looked_at_waits_for_the_clinician(item: Item, waiting: list[str]) -> None:
    result = outcome(examination=exam(looked_at=frozenset(Item) - {item}))
    assert open_codes(result) == waiting
    assert {unanswered.waits_for for unanswered in result.unanswered} <= {AnsweredBy.CLINICIAN}


def test_without_any_examination() -> None:
    result = outcome(examination=None)
    assert codes(result) == ["LAW-03"]
    assert result.worst is Grade.NOT_YET
    seen = {
        "AGE-03",
        "CAR-01",
        "CRK-01",
        "DEN-02",
        "MUC-01",
        "MUC-02",
        "PER-01",
        "PER-02",
        "PUL-01",
        "RES-01",
        "RES-04",
    }
    assert open_codes(result) == sorted(seen | {row[0] for row in LOOKS})


def test_nothing_said_at_all() -> None:
    result = outcome(answers=None)
    assert codes(result) == []
    asked = [rule.code for rule in rules().values() if rule.asks]
    assert open_codes(result) == sorted(asked)


@pytest.mark.parametrize(
    ("changes", "waiting"),
    [
        ({"plan": None}, ["CON-01", "LAW-01", "LAW-02"]),
        ({"plan": plan(carried_out_by=None)}, ["LAW-02"]),
        ({"consent": None}, ["CON-01"]),
        ({"jurisdiction": None}, ["AGE-01", "AGE-02", "LAW-01", "LAW-02", "LAW-03"]),
    ],
    ids=["no plan", "nobody named yet", "consent not asked about", "no jurisdiction chosen"],
)
def test_what_the_program_does_not_know_yet(changes: dict[str, Any], waiting: list[str]) -> None:
    result = outcome(**changes)
    assert open_codes(result) == waiting
    assert {unanswered.waits_for for unanswered in result.unanswered} == {AnsweredBy.SYSTEM}
    assert not result.clear


def test_two_ways_to_one_finding() -> None:
    """Acatalasaemia is named or suspected; one open question beside a no keeps it open."""
    assert codes(outcome(answers=said(acatalasaemia="yes", no_fizz=None))) == ["MET-01"]
    assert open_codes(outcome(answers=said(acatalasaemia="no", no_fizz=None))) == ["MET-01"]


@pytest.mark.parametrize(
    ("consent", "basis"), [(replace(SIGNED, withdrawn=True), "withdrawn"), (ConsentFacts(None), "")]
)
def test_consent_withdrawn_or_never_given(consent: ConsentFacts, basis: str) -> None:
    result = outcome(consent=consent)
    assert codes(result) == ["CON-01"]
    assert basis in finding(result, "CON-01").basis


def test_pregnancy_kept_for_the_practice_waits_for_the_clinician() -> None:
    result = outcome(answers=said(pregnancy_may_apply="in_private"))
    assert open_codes(result) == ["PRG-01", "PRG-02", "PRG-03"]
    assert {unanswered.waits_for for unanswered in result.unanswered} == {AnsweredBy.CLINICIAN}
    not_said = outcome(answers=said(pregnancy_may_apply=None))
    assert {unanswered.waits_for for unanswered in not_said.unanswered} == {AnsweredBy.PATIENT}


@pytest.mark.parametrize(
    ("question", "code"),
    [
        ("acid_in_mouth", "ERO-01"),
        ("hoped_for", "EXP-01"),
        ("look_in_the_way", "EXP-02"),
        ("look_on_mind", "EXP-02"),
        ("alcohol", "ALC-01"),
    ],
)
def test_what_is_asked_face_to_face_waits_for_the_clinician(question: str, code: str) -> None:
    kept = None if question in IN_PRIVATE_WELL else "in_private"
    result = outcome(answers=said(**{question: kept}))
    assert open_codes(result) == [code]
    assert {unanswered.waits_for for unanswered in result.unanswered} == {AnsweredBy.CLINICIAN}


def test_age_rules_by_place() -> None:
    """Age in law: a must-not where it is written, a not-yet elsewhere, and never both."""
    assert codes(outcome(patient=SIXTEEN, jurisdiction=UK)) == ["AGE-01"]
    assert codes(outcome(patient=SIXTEEN, jurisdiction=US)) == ["AGE-02"]
    for place in (UK, US):
        assert outcome(patient=SIXTEEN, jurisdiction=place).not_before == date(2027, 8, 12)
        assert outcome(patient=SIXTEEN, jurisdiction=place, today=date(2027, 8, 12)).findings == ()


def test_born_on_29_february_waits_for_1_march() -> None:
    leap = PatientFacts(date(2008, 2, 29))
    assert codes(outcome(patient=leap, today=date(2026, 2, 28))) == ["AGE-01"]
    assert codes(outcome(patient=leap, today=date(2026, 3, 1))) == []


def test_teeth_of_an_arch_that_is_not_planned_do_not_count() -> None:
    upper_only = plan(lower=False)
    assert codes(outcome(plan=upper_only, examination=tooth_with("31", Trouble.DECAY))) == []
    assert codes(outcome(plan=upper_only, examination=exam(milk_teeth=("75",)))) == []
    # Without a plan every tooth may be meant.
    assert codes(outcome(plan=None, examination=tooth_with("31", Trouble.DECAY))) == ["CAR-01"]


def test_leaving_a_decayed_tooth_out_does_not_close_its_cavity() -> None:
    result = outcome(plan=plan(left_out=frozenset({"11"})), examination=tooth_with("11", Trouble.DECAY))
    assert finding(result, "CAR-01").in_force
    assert finding(result, "CAR-01").teeth == ("11",)
