"""A session is confirmed through its case, wherever the button stands: agreed first, at the plan's length."""

from datetime import datetime

from django.utils.translation import gettext_lazy as _

from clinic.diary.models import Booking, VisitCode
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.casebook.actions import confirm_pencilled
from whitening.cases.models import CaseVisit, VisitPurpose


class OutsideItsCase(Refusal):
    code = "casebook.outside_its_case"
    sentence = _(
        "This session belongs to no case, so nothing has been agreed for it. Open a case for the patient and "
        "find a time from there; then let this one go."
    )


def confirm_session(booking: Booking, actor: Actor, now: datetime) -> Booking | None:
    """Raises OutsideItsCase, and NotAgreedYet while the consent for the plan in force is not signed by both."""
    visits = CaseVisit.objects.filter(booking=booking, purpose=VisitPurpose.SESSION)
    visit = visits.select_related("case", "booking__site", "booking__patient", "booking__visit_type").first()
    if visit is None and booking.visit_type.code == VisitCode.TREATMENT:
        raise OutsideItsCase
    return confirm_pencilled(case=visit.case, visit=visit, actor=actor, now=now) if visit else None
