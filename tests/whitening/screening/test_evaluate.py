"""Findings meet the plan and the decisions: what ends a finding, and what never does."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from tests.whitening.screening.someone import (
    DECIDED_AT,
    LOOKED_AT_ALL,
    PLAN,
    codes,
    decide,
    finding,
    outcome,
    said,
)
from whitening.screening.decisions import DecisionKind, why_not
from whitening.screening.examination import ToothFinding, Trouble
from whitening.screening.facts import ConsentFacts, PatientFacts
from whitening.screening.grades import Family, Grade, Profession
from whitening.screening.outcome import Standing, State

NO_LIGHT = replace(PLAN, uses_light=False)
CRACKED = replace(LOOKED_AT_ALL, teeth=(ToothFinding("31", frozenset({Trouble.PAINFUL_CRACK})),))
BARE = replace(LOOKED_AT_ALL, teeth=(ToothFinding("43", frozenset({Trouble.BARE_DENTINE_NOT_COVERABLE})),))


@pytest.mark.parametrize(
    ("code", "facts", "changed"),
    [
        ("ALG-02", {"answers": said(reacted_to_resin="yes")}, replace(PLAN, resin_barrier=False)),
        ("LGT-07", {"answers": said(skin_cancer="yes")}, NO_LIGHT),
        ("LGT-09", {"answers": said(flashing_lights="yes")}, NO_LIGHT),
        ("CRK-01", {"examination": CRACKED}, replace(PLAN, left_out=frozenset({"31"}))),
        ("DEN-02", {"examination": BARE}, replace(PLAN, left_out=frozenset({"43", "44"}))),
    ],
)
def test_a_changed_plan_ends_it(code: str, facts: dict[str, Any], changed: Any) -> None:
    """It stays listed as a note: what the patient said is never hidden."""
    assert finding(outcome(**facts), code).state is State.STANDS
    result = outcome(**facts, plan=changed)
    assert finding(result, code).state is State.KEPT_OUT_BY_PLAN
    assert (result.worst, result.standing, result.clear) == (Grade.NOTE, Standing.NOTE, True)
    assert finding(outcome(**facts, plan=None), code).in_force


def test_a_plan_without_a_light_does_not_end_what_the_curing_light_does_too() -> None:
    for name, code in (("light_treatment", "LGT-01"), ("porphyria", "LGT-02"), ("sun_illness", "LGT-03")):
        assert finding(outcome(answers=said(**{name: "yes"}), plan=NO_LIGHT), code).in_force


def test_leaving_out_another_tooth_changes_nothing() -> None:
    assert finding(outcome(examination=CRACKED, plan=replace(PLAN, left_out=frozenset({"41"}))), "CRK-01").in_force
    # Said by the patient, seen by nobody: no tooth is known that could be left out.
    felt = outcome(answers=said(hurts_on_biting="yes"), examination=None, plan=PLAN)
    assert finding(felt, "CRK-01").in_force


ALLERGIC: dict[str, Any] = {"answers": said(reacted_to_peroxide="yes")}
SENSITIVE: dict[str, Any] = {"answers": said(sensitivity=6)}


def test_a_dentists_examined_finding_with_evidence_replaces_a_must_not() -> None:
    about = finding(outcome(**ALLERGIC), "ALG-01")
    decision = decide(about, DecisionKind.EXAMINED)
    result = outcome(**ALLERGIC, decisions=[decision])
    assert finding(result, "ALG-01").state is State.EXAMINED
    assert finding(result, "ALG-01").decision == decision
    assert result.clear


def test_a_deferral_whose_row_says_so_is_cleared_with_a_reason() -> None:
    about = finding(outcome(**SENSITIVE), "SEN-02")
    result = outcome(**SENSITIVE, decisions=[decide(about, DecisionKind.CLEARED, evidence="")])
    assert finding(result, "SEN-02").state is State.CLEARED
    assert result.clear


REFUSED = [
    ("a must-not is not waved through", ALLERGIC, "ALG-01", DecisionKind.CLEARED, {}, "cannot be waved through"),
    ("no evidence", ALLERGIC, "ALG-01", DecisionKind.EXAMINED, {"evidence": " "}, "evidence"),
    ("no reason", ALLERGIC, "ALG-01", DecisionKind.EXAMINED, {"reason": " "}, "reason"),
    (
        "a hygienist examines away",
        ALLERGIC,
        "ALG-01",
        DecisionKind.EXAMINED,
        {"profession": Profession.HYGIENIST},
        "Only a dentist",
    ),
    (
        "a hygienist clears a dentist's row",
        SENSITIVE,
        "SEN-02",
        DecisionKind.CLEARED,
        {"profession": Profession.HYGIENIST},
        "A dentist decides",
    ),
    ("a nurse", SENSITIVE, "SEN-02", DecisionKind.CLEARED, {"profession": Profession.NURSE}, "Only a clinician"),
    (
        "pregnancy is nobody's decision",
        {"answers": said(pregnancy_may_apply="yes", pregnant="unsure", breastfeeding="no")},
        "PRG-01",
        DecisionKind.EXAMINED,
        {},
        "answer changes",
    ),
    (
        "the plan still has a light",
        {"answers": said(sun_illness="yes")},
        "LGT-03",
        DecisionKind.EXAMINED,
        {},
        "without a light",
    ),
    (
        "law",
        {"plan": replace(PLAN, strength_hp_percent=Decimal(10))},
        "LAW-01",
        DecisionKind.EXAMINED,
        {},
        "Nobody can",
    ),
    ("age", {"patient": PatientFacts(date(2010, 1, 1))}, "AGE-01", DecisionKind.EXAMINED, {}, "Nobody can"),
    ("consent", {"consent": ConsentFacts(None)}, "CON-01", DecisionKind.CLEARED, {}, "Nobody can"),
]


@pytest.mark.parametrize(
    ("facts", "code", "kind", "changes", "sentence"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED]
)
def test_a_decision_that_does_not_hold(
    facts: dict[str, Any], code: str, kind: DecisionKind, changes: dict[str, Any], sentence: str
) -> None:
    """It is refused in words, and even a row that came in by another way opens nothing."""
    before = outcome(**facts)
    about = finding(before, code)
    decision = decide(about, kind, **changes)
    refusal = why_not(rule=about.rule, basis=about.basis, decision=decision, plan=facts.get("plan", PLAN))
    assert refusal is not None
    assert sentence in str(refusal)
    after = outcome(**facts, decisions=[decision])
    assert after == before
    assert finding(after, code).decision is None


def test_a_light_illness_needs_the_letter_and_the_plan() -> None:
    facts: dict[str, Any] = {"answers": said(sun_illness="yes"), "plan": NO_LIGHT}
    decision = decide(finding(outcome(**facts), "LGT-03"), DecisionKind.EXAMINED)
    assert finding(outcome(**facts, decisions=[decision]), "LGT-03").state is State.EXAMINED
    # With the light back in the plan the decision no longer carries.
    assert finding(outcome(**(facts | {"plan": PLAN}), decisions=[decision]), "LGT-03").in_force


def test_a_hygienist_clears_a_row_for_clinicians() -> None:
    facts: dict[str, Any] = {"answers": said(last_cleaning="unsure")}
    decision = decide(
        finding(outcome(**facts), "HYG-01"), DecisionKind.CLEARED, profession=Profession.HYGIENIST, evidence=""
    )
    assert finding(outcome(**facts, decisions=[decision]), "HYG-01").state is State.CLEARED


def test_a_decision_holds_only_for_what_it_looked_at() -> None:
    decision = decide(finding(outcome(examination=CRACKED), "CRK-01"), DecisionKind.CLEARED)
    assert outcome(examination=CRACKED, decisions=[decision]).clear
    worse = replace(CRACKED, teeth=(*CRACKED.teeth, ToothFinding("41", frozenset({Trouble.PAINFUL_CRACK}))))
    assert finding(outcome(examination=worse, decisions=[decision]), "CRK-01").in_force
    assert finding(outcome(examination=BARE, decisions=[decision]), "DEN-02").in_force


def test_the_latest_decision_counts() -> None:
    about = finding(outcome(**SENSITIVE), "SEN-02")
    cleared = decide(about, DecisionKind.CLEARED)
    taken_back = decide(about, DecisionKind.STANDS, decided_at=DECIDED_AT + timedelta(minutes=5))
    for decisions in ([cleared, taken_back], [taken_back, cleared]):
        result = outcome(**SENSITIVE, decisions=decisions)
        assert finding(result, "SEN-02").state is State.STANDS
        assert finding(result, "SEN-02").decision == taken_back


def test_all_findings_are_listed_and_the_worst_wins() -> None:
    answers = said(reacted_to_peroxide="yes", sensitivity=8, skin_cancer="yes", gums_bleed="yes")
    result = outcome(answers=answers, plan=NO_LIGHT)
    assert codes(result) == ["ALG-01", "LGT-07", "PER-01", "SEN-02"]
    assert [found.rule.code for found in result.in_force] == ["ALG-01", "SEN-02"]
    assert [found.rule.code for found in result.must_nots] == ["ALG-01"]
    assert (result.worst, result.standing) == (Grade.MUST_NOT, Standing.MUST_NOT)
    assert result.to_do == ()


def test_a_part_of_an_outcome() -> None:
    result = outcome(answers=said(reacted_to_peroxide="yes", medicines=None), consent=ConsentFacts(None))
    assert codes(result.of(Family.CONSENT)) == ["CON-01"]
    assert result.of(Family.CONSENT).unanswered == ()
    rest = result.without(Family.CONSENT, Family.ALLERGY)
    assert (codes(rest), rest.standing) == ([], Standing.NOT_CLEARED)
    assert result.finding("SEN-02") is None


@pytest.mark.parametrize(("said_so", "code", "at_the_chair"), [
    ({"sensitivity": 2}, "SEN-01", True),
    # A matter of the talk and of the plan: nobody at the chair has something to do about it.
    ({"tetracycline": "yes"}, "STN-01", False),
])  # fmt: skip
def test_with_care_is_clear_and_may_leave_a_step_to_do(said_so: Any, code: str, at_the_chair: bool) -> None:
    result = outcome(answers=said(**said_so))
    found = finding(result, code)
    assert (result.standing, result.clear, result.with_care) == (Standing.WITH_CARE, True, (found,))
    assert result.to_do == ((found,) if at_the_chair else ())
