"""From when on a visit of a case makes sense: after the consultation, the interval, or from the review's day on."""

from datetime import date, datetime, time, timedelta

from clinic.diary.engine.working import instant
from clinic.diary.models import HOLDING, Status
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, CaseVisit, Plan, VisitPurpose
from whitening.cases.rules import treatable_on
from whitening.consent.reading import Standing, first_signing_on, standing
from whitening.recall.visits import review_from
from whitening.screening.outcome import Outcome
from whitening.screening.reading import jurisdiction_of, outcome_of

# Time for the patient to answer, read and think between consultation and session; common practice, no source.
DAYS_TO_THINK = 1


def first_possible_on(case: Case, *, outcome: Outcome, plan: Plan | None, held: Standing) -> date | None:
    """The first day on which a session may be: waiting times of findings, age, deferral, cooling-off; None for any.

    From this day on it may still need something; before it, it may not be.
    """
    cooled_off_on = None if held.signed_this_plan or plan is None else first_signing_on(case, plan)
    days = [outcome.not_before, case.deferred_until, cooled_off_on]
    return max((day for day in days if day is not None), default=None)


def not_before_on(case: Case, *, now: datetime) -> date | None:
    """The same as it is known today, for looking for a time; None once that day is here."""
    plan, today = plan_in_force(case), now.astimezone(case.site.zone).date()
    held = standing(case, plan=plan)
    first_on = first_possible_on(case, outcome=outcome_of(case, today=today, plan=plan), plan=plan, held=held)
    return first_on if first_on is not None and first_on > today else None


def earliest_for(case: Case, purpose: VisitPurpose, *, now: datetime) -> datetime:
    """Never in the past, and a session never before a day that the case waits for."""
    if purpose == VisitPurpose.SESSION:
        first_on = not_before_on(case, now=now)
        waits = instant(first_on, time(0), case.site.zone) if first_on else now
        return max(now, waits, _after_consultation(case), _after_last_session(case), _when_old_enough(case))
    if purpose == VisitPurpose.REVIEW:
        return max(now, review_from(case) or now)
    return now


def _after_consultation(case: Case) -> datetime:
    last = _last(case, VisitPurpose.CONSULTATION)
    if last is None:
        return case.opened_at
    jurisdiction = jurisdiction_of(case)
    # Where local rules ask for days between talk and signature, the talk is the consultation's.
    days = max(DAYS_TO_THINK, jurisdiction.cooling_off_days if jurisdiction else 0)
    return _day_after(case, last, days)


def _after_last_session(case: Case) -> datetime:
    last = _last(case, VisitPurpose.SESSION)
    plan = plan_in_force(case)
    return _day_after(case, last, plan.least_days_between if plan else 7) if last else case.opened_at


def _when_old_enough(case: Case) -> datetime:
    return instant(treatable_on(case.patient.birth_on), time(0), case.site.zone)


def _last(case: Case, purpose: VisitPurpose) -> CaseVisit | None:
    held = [status for status in HOLDING if status != Status.NOSHOW]
    visits = case.visits.filter(purpose=purpose, booking__status__in=held).select_related("booking")
    return visits.order_by("booking__starts_at").last()


def _day_after(case: Case, visit: CaseVisit, days: int) -> datetime:
    return instant(visit.booking.wall_on + timedelta(days=days), time(0), case.site.zone)
