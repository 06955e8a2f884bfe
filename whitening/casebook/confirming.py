"""A session is confirmed through its case, wherever the button stands: agreed first, at the plan's length."""

from datetime import datetime

from clinic.diary.models import Booking, VisitCode
from clinic.trail.actor import Actor
from whitening.casebook.actions import NotAgreedYet, confirm_pencilled
from whitening.cases.models import CaseVisit, VisitPurpose


def confirm_session(booking: Booking, actor: Actor, now: datetime) -> Booking | None:
    """Raises NotAgreedYet while the consent for the plan in force is not signed and countersigned."""
    visits = CaseVisit.objects.filter(booking=booking, purpose=VisitPurpose.SESSION)
    visit = visits.select_related("case", "booking__site", "booking__patient", "booking__visit_type").first()
    if visit is None and booking.visit_type.code == VisitCode.TREATMENT:
        # Of somebody without a case nothing can have been agreed.
        raise NotAgreedYet
    return confirm_pencilled(case=visit.case, visit=visit, actor=actor, now=now) if visit else None
