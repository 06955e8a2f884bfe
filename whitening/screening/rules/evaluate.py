"""From facts to an outcome: every rule looks once, and what it finds meets the plan and the decisions."""

from collections.abc import Sequence
from datetime import date

from whitening.screening.decisions import DecisionFacts, DecisionKind, plan_has, why_not
from whitening.screening.examination import Examination
from whitening.screening.facts import Answers, ConsentFacts, PatientFacts, PlanFacts
from whitening.screening.jurisdictions import Jurisdiction
from whitening.screening.loader import Rule
from whitening.screening.outcome import Finding, Outcome, State, Unanswered
from whitening.screening.rulebook import rules
from whitening.screening.rules.readings import PREDICATES, Open, Present, Seen

NOTHING_SAID = Answers("")


def evaluate(
    *,
    answers: Answers | None,
    patient: PatientFacts,
    examination: Examination | None,
    plan: PlanFacts | None,
    consent: ConsentFacts | None,
    jurisdiction: Jurisdiction | None,
    decisions: Sequence[DecisionFacts],
    today: date,
) -> Outcome:
    """`today` is the day asked about: for a booking ahead, that session's local day."""
    findings: list[Finding] = []
    unanswered: list[Unanswered] = []
    for rule in rules().values():
        seen = Seen(rule, answers or NOTHING_SAID, patient, examination, plan, consent, jurisdiction, today)
        # All of them look, also after a must-not: the clinician sees every finding, not only the worst.
        match PREDICATES[rule.code](seen):
            case Present() as reading:
                findings.append(_settle(rule=rule, reading=reading, plan=plan, decisions=decisions))
            case Open(waits_for):
                unanswered.append(Unanswered(rule, waits_for))
            case _:
                pass
    return Outcome(today=today, findings=tuple(findings), unanswered=tuple(unanswered))


def _settle(*, rule: Rule, reading: Present, plan: PlanFacts | None, decisions: Sequence[DecisionFacts]) -> Finding:
    state, decision = _state(rule=rule, reading=reading, plan=plan, decisions=decisions)
    return Finding(rule, state, reading.basis, reading.teeth, reading.not_before, decision)


def _state(
    *, rule: Rule, reading: Present, plan: PlanFacts | None, decisions: Sequence[DecisionFacts]
) -> tuple[State, DecisionFacts | None]:
    """The latest decision that holds is shown even where the plan or the examination already ended the finding."""
    decision = _latest(rule=rule, basis=reading.basis, plan=plan, decisions=decisions)
    # The gentlest explanation first: it is not there, it is not touched, somebody decided.
    if reading.examined:
        return State.EXAMINED, decision
    if rule.clears.by_plan and plan_has(rule.clears.by_plan, plan=plan, teeth=reading.teeth):
        return State.KEPT_OUT_BY_PLAN, decision
    if decision is None or decision.kind is DecisionKind.STANDS:
        return State.STANDS, decision
    return (State.CLEARED if decision.kind is DecisionKind.CLEARED else State.EXAMINED), decision


def _latest(
    *, rule: Rule, basis: str, plan: PlanFacts | None, decisions: Sequence[DecisionFacts]
) -> DecisionFacts | None:
    """Checked again here, so that a row written by any other way cannot open a gate."""
    holding = [one for one in decisions if why_not(rule=rule, basis=basis, decision=one, plan=plan) is None]
    return max(holding, key=lambda one: one.decided_at, default=None)
