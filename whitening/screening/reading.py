"""From rows to what the rules look at. Every page and every gate asks the same outcome here."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from whitening.cases.access import newest, plan_in_force, rows_in_memory
from whitening.cases.models import Case, Isolation, Plan, PlannedLight
from whitening.screening import answers as answering
from whitening.screening import examination as examining
from whitening.screening.decisions import DecisionFacts, DecisionKind
from whitening.screening.facts import Answer, Answers, AnswerValue, ConsentFacts, PatientFacts, PlanFacts
from whitening.screening.grades import Profession
from whitening.screening.jurisdictions import Jurisdiction
from whitening.screening.local_rules import rule_at
from whitening.screening.models import AnswerSet, Decision, ExaminationRecord, Reask
from whitening.screening.outcome import Outcome
from whitening.screening.questions import Question, in_private, open_questions, questionnaire
from whitening.screening.reask import GO_AHEAD, ReaskItem, still_open
from whitening.screening.rules import evaluate


def outcome_of(
    case: Case,
    *,
    today: date,
    consent: ConsentFacts | None = None,
    carried_out_by: Profession | None = None,
    plan: Plan | None = None,
    light_off: bool = False,
) -> Outcome:
    """The outcome for one day, with everything known about the case. Four queries beside the plan's.

    Consent lies above this part and is handed in; so is who will carry the session out on that day.
    light_off: as if the plan used no light.
    """
    plan = plan or plan_in_force(case)
    facts = plan_facts(plan) if plan else None
    if facts is not None:
        by = carried_out_by or facts.carried_out_by
        facts = replace(facts, carried_out_by=by, uses_light=facts.uses_light and not light_off)
    return evaluate(
        answers=answers_of(case),
        patient=PatientFacts(case.patient.birth_on),
        examination=examination_of(case),
        plan=facts,
        consent=consent,
        jurisdiction=jurisdiction_of(case),
        decisions=decisions_of(case),
        today=today,
    )


def jurisdiction_of(case: Case) -> Jurisdiction | None:
    """None until the practice has chosen whose rules hold here: then nothing can be planned."""
    return rule_at(case.site)


def newest_answers(case: Case) -> AnswerSet | None:
    row: AnswerSet | None = newest(case, "answer_sets", "handed_in_at", "pk")
    return row


def answers_of(case: Case) -> Answers | None:
    row = newest_answers(case)
    return None if row is None else Answers(row.questionnaire, given_from_data(row.values))


def questions_to_ask(case: Case, *, user: User) -> tuple[list[Question], int]:
    """Those still open that this person may ask, and how many are a clinician's because the patient wants privacy."""
    answers = answers_of(case)
    held = answers.values if answers else {}
    found = open_questions(held=held)
    if may(user, Capability.EXAMINE_AND_DECIDE, case.site):
        return list(found), 0
    allowed = [one for one in found if not in_private(one, held)]
    return allowed, len(found) - len(allowed)


def given_to_data(given: Mapping[str, Answer]) -> dict[str, dict[str, Any]]:
    plain = answering.to_data({name: answer.value for name, answer in given.items()})
    return {
        name: {
            "value": plain[name],
            "given_at": answer.given_at.isoformat(),
            "given_on": answer.given_on.isoformat(),
        }
        for name, answer in given.items()
    }


def given_from_data(data: Mapping[str, Mapping[str, Any]]) -> dict[str, Answer]:
    values = answering.from_data({name: row["value"] for name, row in data.items()})
    return {
        name: Answer(values[name], datetime.fromisoformat(row["given_at"]), date.fromisoformat(row["given_on"]))
        for name, row in data.items()
    }


def newest_examination(case: Case) -> ExaminationRecord | None:
    row: ExaminationRecord | None = newest(case, "examinations", "examined_at", "pk", related=("examined_by",))
    return row


def examination_of(case: Case) -> examining.Examination | None:
    row = newest_examination(case)
    if row is None:
        return None
    return examining.from_data(
        row.findings,
        examined_at=row.examined_at,
        examined_on=row.examined_on,
        profession=Profession(row.profession),
    )


def newest_reask(case: Case) -> Reask | None:
    row: Reask | None = newest(case, "reasks", "asked_at", "pk", related=("decision__decided_by",))
    return row


def waiting_in(row: Reask) -> tuple[ReaskItem, ...]:
    """What was new on the day, has no rule behind it, and is not settled yet."""
    return still_open(changed=row.changed, decided=hasattr(row, "decision"))


def to_decide_in(row: Reask | None) -> tuple[ReaskItem, ...]:
    """What waits for a clinician. Not wanting to go ahead is nothing to decide about: it is the patient's word."""
    return tuple(item for item in waiting_in(row) if item.id != GO_AHEAD) if row is not None else ()


def asked_again_on(case: Case) -> date | None:
    """The day of the last re-ask with nothing of it left open; None while something waits for a decision."""
    row = newest_reask(case)
    return None if row is None or waiting_in(row) else row.asked_on


@dataclass(frozen=True, slots=True)
class Told:
    """One question with what holds now and what was said before: an earlier answer never disappears."""

    question: Question
    value: AnswerValue | None
    given_on: date | None
    earlier: tuple[tuple[AnswerValue, date], ...] = ()


def told(case: Case) -> list[Told]:
    """Every question that applies, in order, with the answers of all sets."""
    sets = [given_from_data(row.values) for row in case.answer_sets.order_by("handed_in_at", "pk")]
    if not sets:
        return []
    latest = _values(sets[-1])
    ids = {name for given in sets for name in given}
    asked = [one for one in questionnaire().questions if one.id in ids or one.applies(latest)]
    return [_told(question, sets) for question in asked]


def _told(question: Question, sets: Sequence[Mapping[str, Answer]]) -> Told:
    answers = [given[question.id] for given in sets if question.id in given]
    distinct = {answer.given_at: answer for answer in answers}
    current = sets[-1].get(question.id)
    earlier = tuple(
        (answer.value, answer.given_on) for given_at, answer in distinct.items() if current is None or answer != current
    )
    return Told(question, current.value if current else None, current.given_on if current else None, earlier)


def _values(given: Mapping[str, Answer]) -> dict[str, AnswerValue]:
    return {name: answer.value for name, answer in given.items()}


def decisions_of(case: Case) -> list[DecisionFacts]:
    if rows_in_memory(case, "decisions"):
        rows = sorted(case.decisions.all(), key=lambda row: (row.decided_at, row.pk))
    else:
        rows = list(case.decisions.select_related("decided_by").order_by("decided_at", "pk"))
    return [decision_facts(row) for row in rows]


def decision_facts(row: Decision) -> DecisionFacts:
    return DecisionFacts(
        code=row.rule,
        kind=DecisionKind(row.sort),
        basis=row.basis,
        decided_at=row.decided_at,
        decided_on=row.decided_on,
        decided_by=row.decided_by.name,
        profession=Profession(row.profession),
        reason=row.reason,
        evidence=row.evidence,
        paper_id=row.paper_id,
    )


def plan_facts(plan: Plan) -> PlanFacts:
    return PlanFacts(
        version=plan.version,
        strength_hp_percent=plan.strength_hp_percent,
        uses_light=plan.light != PlannedLight.NONE,
        resin_barrier=plan.isolation == Isolation.RESIN_BARRIER,
        upper=plan.upper_arch,
        lower=plan.lower_arch,
        left_out=frozenset(plan.teeth_left_out),
        prescribed_by=Profession(plan.prescribed_by.profession) if plan.prescribed_by else None,
    )
