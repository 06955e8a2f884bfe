"""One healthy adult with everything in order; each test changes the one thing it is about."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from whitening.screening.decisions import DecisionFacts, DecisionKind
from whitening.screening.examination import Examination, Item, ToothFinding, Trouble
from whitening.screening.facts import Answers, AnswerValue, ConsentFacts, PatientFacts, PlanFacts
from whitening.screening.grades import Profession
from whitening.screening.jurisdictions import Jurisdiction, jurisdictions
from whitening.screening.outcome import Finding, Outcome
from whitening.screening.questions import questions_for
from whitening.screening.rules import evaluate

ANSWERED_ON = date(2026, 3, 1)
ANSWERED_AT = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
EXAMINED_ON = date(2026, 3, 2)
EXAMINED_AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DECIDED_AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
TODAY = date(2026, 3, 3)

ALL_WELL: dict[str, AnswerValue] = {
    "medicines": (),
    "light_medicines": (),
    "reacted_to_peroxide": "no",
    "reacted_to_resin": "no",
    "allergies": (),
    "acatalasaemia": "no",
    "no_fizz": "no",
    "illnesses": (),
    "pregnancy_may_apply": "no",
    "light_treatment": "no",
    "porphyria": "no",
    "sun_illness": "no",
    "skin_cancer": "no",
    "flashing_lights": "no",
    "eyes": (),
    "mouth_cancer": "no",
    "mouth_sore": "no",
    "mouth_lining": (),
    "mouth_lately": (),
    "cold_sore": "no",
    "gums_bleed": "no",
    "gum_disease": "no",
    "sensitivity": 0,
    "hurts_on_biting": "no",
    "toothache": "no",
    "tetracycline": "no",
    "worn_in_mouth": (),
    "filling_lately": "no",
    "whitened_before": "no",
    "whitening_now": "no",
    "last_cleaning": "under_6_months",
    "smoking": "no",
    "alcohol": "no",
    "jaw": (),
    "lying_back": (),
}
# What a clinician asks face to face, and is well.
IN_PRIVATE_WELL: dict[str, AnswerValue] = {
    "acid_in_mouth": "no",
    "hoped_for": "lighter",
    "look_in_the_way": "no",
    "look_on_mind": "no",
}
# What is asked only after another answer, and is well.
FOLLOWING: dict[str, AnswerValue] = {
    "allergies_which": (),
    "trying_for_a_baby": "no",
    "whitening_hurt": "no",
    "whitening_often": "no",
    "smoke_free_hard": "no",
    "asthma_troubles": "no",
}

LOOKED_AT_ALL = Examination(
    examined_at=EXAMINED_AT, examined_on=EXAMINED_ON, profession=Profession.DENTIST, looked_at=frozenset(Item)
)
ADULT = PatientFacts(birth_on=date(1990, 6, 15))
PLAN = PlanFacts(
    version=1,
    strength_hp_percent=Decimal(6),
    uses_light=True,
    resin_barrier=True,
    upper=True,
    lower=True,
    carried_out_by=Profession.DENTIST,
)
SIGNED = ConsentFacts(signed_plan_version=1)
UK = jurisdictions()["UK"]
EU = jurisdictions()["EU"]
US = jurisdictions()["US"]


def said(**values: AnswerValue | None) -> Answers:
    """All well but for these, and what is asked because of them; None leaves a question open."""
    changed = {name: value for name, value in (ALL_WELL | IN_PRIVATE_WELL | values).items() if value is not None}
    following = {name: FOLLOWING[name] for name in FOLLOWING.keys() - values.keys()}
    asked = {question.id for question in questions_for(changed)}
    changed |= {name: value for name, value in following.items() if name in asked}
    return Answers.on_day(version="1", values=changed, given_at=ANSWERED_AT, given_on=ANSWERED_ON)


WELL = said()


def outcome(
    *,
    answers: Answers | None = WELL,
    patient: PatientFacts = ADULT,
    examination: Examination | None = LOOKED_AT_ALL,
    plan: PlanFacts | None = PLAN,
    consent: ConsentFacts | None = SIGNED,
    jurisdiction: Jurisdiction | None = UK,
    decisions: Sequence[DecisionFacts] = (),
    today: date = TODAY,
) -> Outcome:
    return evaluate(
        answers=answers,
        patient=patient,
        examination=examination,
        plan=plan,
        consent=consent,
        jurisdiction=jurisdiction,
        decisions=decisions,
        today=today,
    )


def exam(**changes: Any) -> Examination:
    """All looked at and nothing found, but for these."""
    return replace(LOOKED_AT_ALL, **changes)


def tooth_with(number: str, *troubles: Trouble, restored_on: date | None = None) -> Examination:
    return exam(teeth=(ToothFinding(number, frozenset(troubles), restored_on),))


def plan(**changes: Any) -> PlanFacts:
    return replace(PLAN, **changes)


def codes(result: Outcome) -> list[str]:
    return sorted(finding.rule.code for finding in result.findings)


def open_codes(result: Outcome) -> list[str]:
    return sorted(unanswered.rule.code for unanswered in result.unanswered)


def finding(result: Outcome, code: str) -> Finding:
    found = result.finding(code)
    assert found is not None
    return found


def decide(
    about: Finding,
    kind: DecisionKind,
    *,
    profession: Profession = Profession.DENTIST,
    reason: str = "seen and talked about",
    evidence: str = "letter of 27 Feb 2026",
    decided_at: datetime = DECIDED_AT,
) -> DecisionFacts:
    """A dentist's decision with a reason and evidence; each test takes one of them away."""
    return DecisionFacts(
        code=about.rule.code,
        kind=kind,
        basis=about.basis,
        decided_at=decided_at,
        decided_on=decided_at.date(),
        decided_by="Amara Quill",
        profession=profession,
        reason=reason,
        evidence=evidence,
    )
