"""From rows to the plain facts that the gates and the stage look at. Nobody else reads rows for them."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TypedDict

from django_stubs_ext import StrOrPromise

from clinic.diary.models import Booking, LightKind, Status
from whitening.casebook import reading
from whitening.casebook.gates import GateFacts
from whitening.casebook.lead_times import first_possible_on
from whitening.casebook.reading import Booked, Stock
from whitening.casebook.stage import OVER, Stage, StageFacts, stage
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, Isolation, Plan, PlannedLight
from whitening.chairside import readiness
from whitening.consent.reading import Standing, standing
from whitening.screening.audience import desk_lines, law_lines
from whitening.screening.grades import Family, Profession
from whitening.screening.joined import is_joined_unread
from whitening.screening.outcome import Outcome, State
from whitening.screening.reading import (
    asked_again_on,
    jurisdiction_of,
    newest_answers,
    newest_reask,
    outcome_of,
    to_decide_in,
)
from whitening.screening.validity import answers_in_date

_LAW = (Family.LAW,)
_NOT_QUESTIONS = (Family.LAW, Family.CONSENT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One case on one local day, with the person who will carry the session out.

    booking_id: of the session that is asked about; None where the question is only about a day.
    pencilled_until: the local day on which the booking lapses unless it is confirmed.
    lapsed: names of those booked to treat whose registration or indemnity does not cover the day.
    """

    case_id: int
    day: date
    carried_out_by: Profession | None
    lapsed: tuple[str, ...] = ()
    booking_id: int | None = None
    pencilled_until: date | None = None


def ask_of(*, case_id: int, booking: Booking, booked: Booked | None) -> Ask:
    """About a session, as it is booked."""
    return Ask(
        case_id=case_id,
        day=booking.wall_on,
        carried_out_by=booked.profession if booked else None,
        lapsed=booked.lapsed if booked else (),
        booking_id=booking.pk,
        pencilled_until=_pencilled_until(booking),
    )


def _pencilled_until(booking: Booking) -> date | None:
    if booking.status != Status.PROPOSED or booking.lapses_at is None:
        return None
    return booking.lapses_at.astimezone(booking.site.zone).date()


def facts_of_many(asks: Sequence[Ask]) -> list[GateFacts]:
    """For each ask, in their order; the number of queries does not grow with them."""
    if not asks:
        return []
    cases, stock = reading.for_gates([ask.case_id for ask in asks]), Stock()
    return [_facts(cases[ask.case_id], ask, stock) for ask in asks]


def _facts(case: Case, ask: Ask, stock: Stock) -> GateFacts:
    plan, day = plan_in_force(case), ask.day
    held = standing(case, plan=plan)
    outcome = outcome_of(case, today=day, consent=held.facts(), carried_out_by=ask.carried_out_by, plan=plan)
    first_on = first_possible_on(case, outcome=outcome, plan=plan, held=held)
    law = outcome.of(*_LAW)
    if ask.booking_id is not None and first_on is not None and first_on > day:
        # What only waits for its day is said by the booked time; the questions say what is left on that day.
        outcome = outcome_of(case, today=first_on, consent=held.facts(), carried_out_by=ask.carried_out_by, plan=plan)
    clinical = outcome.without(*_NOT_QUESTIONS)
    answers = newest_answers(case)
    last_on = readiness.last_session_on(case)
    days_between = plan.least_days_between if plan else 0
    return GateFacts(
        today=day,
        has_answers=answers is not None,
        answers_in_date=answers is not None and answers_in_date(given_on=answers.given_on, today=day),
        joined_unread=is_joined_unread(case),
        desk_words=tuple(str(line) for line in desk_lines(clinical)),
        findings_clear=clinical.clear,
        findings_cleared_by=_deciders(clinical),
        steps_of_care=len(clinical.to_do),
        findings_of_care=len(clinical.with_care),
        not_before=first_on if first_on and first_on > day else None,
        booking_id=ask.booking_id,
        pencilled_until=ask.pencilled_until,
        is_open_at_the_chair=ask.booking_id is not None and readiness.was_opened(case, ask.booking_id),
        nothing_left=_stage(case) in OVER,
        first_on=first_on,
        asked_again_on=asked_again_on(case),
        new_to_decide=bool(to_decide_in(newest_reask(case))),
        identity_confirmed_on=readiness.identity_confirmed_on(case),
        has_examination=case.examinations.exists(),
        has_plan=plan is not None,
        law_clear=law.clear,
        law_words=_law_words(law, case, plan),
        operator_known=ask.carried_out_by is not None,
        lapsed=ask.lapsed,
        earliest_next_on=last_on + timedelta(days=days_between) if last_on else None,
        last_session_on=last_on,
        least_days_between=days_between,
        **of_consent(held, day),
        **_things(case, plan, day, stock),
    )


def _law_words(law: Outcome, case: Case, plan: Plan | None) -> tuple[StrOrPromise, ...]:
    strength = plan.strength_hp_percent if plan else None
    return law_lines(law, strength=strength, jurisdiction=jurisdiction_of(case))


def stage_of(case: Case) -> Stage:
    return stages_of([case.pk])[case.pk]


def stages_of(case_ids: Collection[int]) -> dict[int, Stage]:
    return {pk: _stage(case) for pk, case in reading.for_gates(case_ids).items()}


def _stage(case: Case) -> Stage:
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


def _deciders(outcome: Outcome) -> tuple[str, ...]:
    """Who cleared what by decision, as initials would be too little and reasons too much for everybody."""
    settled = {State.CLEARED, State.EXAMINED}
    names: Iterable[str] = (
        finding.decision.decided_by for finding in outcome.findings if finding.state in settled and finding.decision
    )
    return tuple(dict.fromkeys(names))


class OfConsent(TypedDict):
    signed_this_plan: bool
    interpreter_missing: bool
    countersigned: bool
    withdrawn: bool
    signed_on: date | None
    consent_holds: bool


def of_consent(held: Standing, day: date) -> OfConsent:
    return {
        "signed_this_plan": held.signed_this_plan,
        "interpreter_missing": held.lacks_interpreter,
        "countersigned": held.countersignature is not None,
        "withdrawn": held.withdrawal is not None,
        "signed_on": held.signed_on,
        "consent_holds": held.holds_on(day),
    }


def _things(case: Case, plan: Plan | None, day: date, stock: Stock) -> dict[str, bool]:
    """Lights and gel, as far as the plan needs them."""
    if plan is None:
        return {"uses_light": False, "uses_barrier": False, "batch_ready": False}
    uses_light, uses_barrier = plan.light != PlannedLight.NONE, plan.isolation == Isolation.RESIN_BARRIER
    return {
        "uses_light": uses_light,
        "uses_barrier": uses_barrier,
        "light_checked": uses_light and stock.light_checked(site=case.site, kind=plan.light, day=day),
        # The barrier is cured with a hand-held light, whatever the plan does to the teeth.
        "barrier_light_checked": uses_barrier
        and stock.light_checked(site=case.site, kind=LightKind.HAND_HELD, day=day),
        "batch_ready": stock.batch_ready(site=case.site, product=plan.product, day=day),
    }
