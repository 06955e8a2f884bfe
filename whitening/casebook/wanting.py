"""What to look for in the diary for a visit of a case: its kind, and a session's length and light from the plan."""

from django.utils.translation import gettext_lazy as _

from clinic.diary.models import VisitCode, VisitType
from clinic.diary.openings import Wanted
from clinic.diary.segments import A_LIGHT
from clinic.diary.waitlist.needing import Needed
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, Plan, PlannedLight, VisitPurpose

CODES = {
    VisitPurpose.CONSULTATION: VisitCode.CONSULTATION,
    VisitPurpose.SESSION: VisitCode.TREATMENT,
    VisitPurpose.REVIEW: VisitCode.REVIEW,
    VisitPurpose.PROBLEM: VisitCode.PROBLEM,
    VisitPurpose.CLEANING: VisitCode.HYGIENE,
    VisitPurpose.IMPRESSIONS: VisitCode.IMPRESSIONS,
    VisitPurpose.FITTING: VisitCode.FITTING,
}
# Before there is a plan nobody knows which light, so one of either kind is held.
ANY_LIGHT = A_LIGHT


class NoSuchVisitType(Refusal):
    code = "casebook.no_such_visit_type"
    sentence = _("This kind of visit is not set up here yet. A manager adds the usual visits in Set-up.")


def wanted_for(case: Case, purpose: VisitPurpose, *, person: int | None = None) -> Wanted:
    """What to look for in the diary; a session's length and light come from the plan. Raises NoSuchVisitType."""
    visit_type = VisitType.objects.filter(site=case.site, code=CODES[purpose], active=True).order_by("pk").first()
    if visit_type is None:
        raise NoSuchVisitType
    if purpose != VisitPurpose.SESSION:
        return Wanted(visit_type, person=person)
    plan = plan_in_force(case)
    if plan is None:
        return Wanted(visit_type, case.expected_cycles, ANY_LIGHT, person)
    cycles, light, cycle_minutes = needed_for(plan)
    return Wanted(visit_type, cycles, light, person, cycle_minutes=cycle_minutes)


def needed_for(plan: Plan) -> Needed:
    """Of one session."""
    light = "" if plan.light == PlannedLight.NONE else str(plan.light)
    return Needed(plan.cycles_per_session, light, plan.minutes_per_cycle)
