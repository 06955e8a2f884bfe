"""From rows to the plain facts that the gates and the stage look at. Nobody else reads rows for them."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from whitening.casebook.gates import Gate, GateFacts, evaluate
from whitening.casebook.stage import Stage, StageFacts, stage
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, Isolation, Plan, PlannedLight
from whitening.chairside import readiness
from whitening.chairside.models import Session
from whitening.consent.reading import Standing, standing
from whitening.screening.audience import desk_lines
from whitening.screening.grades import Family, Grade, Profession
from whitening.screening.outcome import Outcome, State
from whitening.screening.reading import newest_answers, outcome_of
from whitening.screening.validity import answers_in_date

_LAW = (Family.LAW,)
_NOT_QUESTIONS = (Family.LAW, Family.CONSENT)


def gates_of(case: Case, *, day: date, carried_out_by: Profession | None) -> list[Gate]:
    """Every gate of one case for one local day, with the person who will carry the session out."""
    return evaluate(gate_facts(case, day=day, carried_out_by=carried_out_by))


def gate_facts(case: Case, *, day: date, carried_out_by: Profession | None) -> GateFacts:
    plan = plan_in_force(case)
    held = standing(case, plan=plan)
    outcome = outcome_of(case, today=day, consent=held.facts(), carried_out_by=carried_out_by, plan=plan)
    clinical, law = outcome.without(*_NOT_QUESTIONS), outcome.of(*_LAW)
    answers = newest_answers(case)
    last_on = readiness.last_session_on(case)
    days_between = plan.least_days_between if plan else 0
    return GateFacts(
        today=day,
        has_answers=answers is not None,
        answers_in_date=answers is not None and answers_in_date(given_on=answers.given_on, today=day),
        desk_words=tuple(str(line) for line in desk_lines(clinical)),
        findings_clear=clinical.clear,
        findings_cleared_by=_deciders(clinical),
        steps_of_care=len(clinical.to_do),
        asked_again_on=_asked_again_on(case),
        identity_confirmed_on=readiness.identity_confirmed_on(case),
        has_examination=case.examinations.exists(),
        has_plan=plan is not None,
        law_clear=law.clear,
        law_words=tuple(finding.rule.finding for finding in law.findings if finding.grade >= Grade.NOT_YET),
        earliest_next_on=last_on + timedelta(days=days_between) if last_on else None,
        last_session_on=last_on,
        least_days_between=days_between,
        **_consent(held),
        **_things(case, plan, day),
    )


def session_may_go_on(session: Session, now: datetime) -> bool:
    """While a session runs: consent still holds for its plan, and nothing known stands against it."""
    case = session.case
    held = standing(case)
    day = now.astimezone(case.site.zone).date()
    treats = Profession(session.opened_by.profession)
    outcome = outcome_of(case, today=day, consent=held.facts(), carried_out_by=treats)
    return held.agreed and outcome.clear


def stage_of(case: Case) -> Stage:
    plan = plan_in_force(case)
    opened, closed = readiness.session_counts(case)
    return stage(
        StageFacts(
            closed=case.closed_at is not None,
            has_answers=case.answer_sets.exists(),
            has_examination=case.examinations.exists(),
            agreed=standing(case, plan=plan).agreed,
            sessions_planned=plan.sessions if plan else 0,
            sessions_opened=opened,
            sessions_closed=closed,
        )
    )


def _asked_again_on(case: Case) -> date | None:
    row = case.reasks.order_by("asked_at", "pk").last()
    return row.asked_on if row else None


def _deciders(outcome: Outcome) -> tuple[str, ...]:
    """Who cleared what by decision, as initials would be too little and reasons too much for everybody."""
    settled = {State.CLEARED, State.EXAMINED}
    names: Iterable[str] = (
        finding.decision.decided_by for finding in outcome.findings if finding.state in settled and finding.decision
    )
    return tuple(dict.fromkeys(names))


def _consent(held: Standing) -> dict[str, bool]:
    return {
        "signed_this_plan": held.signed_this_plan,
        "countersigned": held.countersignature is not None,
        "withdrawn": held.withdrawal is not None,
    }


def _things(case: Case, plan: Plan | None, day: date) -> dict[str, bool]:
    """Lights and gel, as far as the plan needs them."""
    if plan is None:
        return {"uses_light": False, "uses_barrier": False, "batch_ready": False}
    return {
        "uses_light": plan.light != PlannedLight.NONE,
        "uses_barrier": plan.isolation == Isolation.RESIN_BARRIER,
        "light_checked": readiness.light_checked(site=case.site, kind=plan.light, day=day),
        "barrier_light_checked": readiness.curing_light_checked(site=case.site, day=day),
        "batch_ready": readiness.batch_ready(site=case.site, product=plan.product, day=day),
    }
