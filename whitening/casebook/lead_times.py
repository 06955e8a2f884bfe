"""From when on a visit of a case makes sense: after the consultation, the interval, or from the review's day on."""

from datetime import datetime, time, timedelta

from clinic.diary.engine.working import instant
from clinic.diary.models import HOLDING, Status
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.cases.rules import treatable_on
from whitening.recall.visits import review_from

# Time for the patient to answer, read and think between consultation and session; common practice, no source.
DAYS_TO_THINK = 1


def earliest_for(case: Case, purpose: VisitPurpose, *, now: datetime) -> datetime:
    """Never in the past, and for a session never before the 18th birthday."""
    if purpose == VisitPurpose.SESSION:
        return max(now, _after_consultation(case), _after_last_session(case), _when_old_enough(case))
    if purpose == VisitPurpose.REVIEW:
        return max(now, review_from(case) or now)
    return now


def _after_consultation(case: Case) -> datetime:
    last = _last(case, VisitPurpose.CONSULTATION)
    return _day_after(case, last, DAYS_TO_THINK) if last else case.opened_at


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
