"""Law, age and consent: facts that the program knows itself. Sources stand in data/rules.

Until a jurisdiction has been chosen nobody can say what the law wants, so its rules stay open.
"""

from clinic.patients.rules import birthday_on
from whitening.screening.examination import Item
from whitening.screening.grades import AnsweredBy
from whitening.screening.rules.readings import ABSENT, Open, Present, Reading, Seen, fires, found
from whitening.screening.verdicts import may_carry_out, may_examine, strength_allowed


@fires("LAW-01")
def gel_too_strong(seen: Seen) -> Reading:
    if seen.plan is None or seen.jurisdiction is None:
        return Open(AnsweredBy.SYSTEM)
    strength = seen.plan.strength_hp_percent
    if strength_allowed(jurisdiction=seen.jurisdiction, hp_percent=strength).allowed:
        return ABSENT
    return Present(f"strength={strength}")


@fires("LAW-02")
def operator_not_allowed(seen: Seen) -> Reading:
    plan = seen.plan
    if plan is None or plan.carried_out_by is None or seen.jurisdiction is None:
        return Open(AnsweredBy.SYSTEM)
    verdict = may_carry_out(
        jurisdiction=seen.jurisdiction,
        profession=plan.carried_out_by,
        prescribed_by=plan.prescribed_by,
        supervised_by=plan.supervised_by,
    )
    return ABSENT if verdict.allowed else Present(f"carried_out_by={plan.carried_out_by}")


@fires("LAW-03")
def no_examination(seen: Seen) -> Reading:
    """An examination by somebody who may not examine here is none."""
    if seen.jurisdiction is None:
        return Open(AnsweredBy.SYSTEM)
    if seen.examination is None:
        return Present("examination=none")
    if not may_examine(jurisdiction=seen.jurisdiction, profession=seen.examination.profession):
        return Present(f"examined_by={seen.examination.profession}")
    return ABSENT


@fires("AGE-01")
def under_age_by_law(seen: Seen) -> Reading:
    """A must-not where the law names the age. At most one of the two rules about age is there at a time."""
    if seen.jurisdiction is None:
        return Open(AnsweredBy.SYSTEM)
    law_age = seen.jurisdiction.law_age
    return ABSENT if law_age is None else _younger_than(law_age, seen)


@fires("AGE-02")
def under_age_by_policy(seen: Seen) -> Reading:
    """A not-yet where only this program, or the practice, asks for the age."""
    if seen.jurisdiction is None:
        return Open(AnsweredBy.SYSTEM)
    if isinstance(under_age_by_law(seen), Present):
        return ABSENT
    return _younger_than(seen.jurisdiction.min_age, seen)


def _younger_than(age: int, seen: Seen) -> Reading:
    birth_on = seen.patient.birth_on
    birthday = birthday_on(birth_on, age)
    return Present(f"birth_on={birth_on}", not_before=birthday) if seen.today < birthday else ABSENT


@fires("AGE-03")
def milk_teeth(seen: Seen) -> Reading:
    there = seen.in_field(seen.examination.milk_teeth) if seen.examination else ()
    return found(seen, item=Item.MILK_TEETH, present=bool(there), teeth=there)


@fires("CON-01")
def no_valid_consent(seen: Seen) -> Reading:
    if seen.plan is None or seen.consent is None:
        return Open(AnsweredBy.SYSTEM)
    # Withdrawal is looked at first: a signature under the right plan does not outlive it.
    if seen.consent.withdrawn:
        return Present("consent=withdrawn")
    if seen.consent.signed_plan_version != seen.plan.version:
        return Present(f"signed_plan={seen.consent.signed_plan_version}")
    return ABSENT
