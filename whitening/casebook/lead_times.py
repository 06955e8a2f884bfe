"""From when on a visit of a case may be: the days alone; leads.py says why."""

from datetime import date, datetime, time

from clinic.diary.engine.working import instant
from clinic.diary.leads import first_day
from whitening.casebook.leads import leads_for
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, Plan, VisitPurpose
from whitening.consent.reading import Standing, first_signing_on, standing
from whitening.screening.outcome import Outcome
from whitening.screening.reading import outcome_of


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


def earliest_for(case: Case, purpose: VisitPurpose, *, now: datetime, with_advice: bool = False) -> datetime:
    """Never in the past, and a session never before a day that the case waits for."""
    first_on = first_day(leads_for(case, purpose, user=None, now=now), with_advice=with_advice)
    return max(now, instant(first_on, time(0), case.site.zone)) if first_on else now
