"""Which times of a case are only pencilled, and until when: sessions not agreed yet, and what hangs on them."""

from datetime import datetime

from django.db.models import Max

from clinic.diary.models import Booking, Status, VisitCode
from whitening.casebook.rules import pencilled_until
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.consent.reading import standing


def lapses_at(case: Case, purpose: VisitPurpose, *, start_at: datetime, now: datetime) -> datetime | None:
    """None for a time that is booked at once. A review falls out with the sessions that it follows."""
    if purpose == VisitPurpose.REVIEW:
        sessions = case.visits.filter(
            purpose=VisitPurpose.SESSION, booking__status=Status.PROPOSED, booking__lapses_at__gt=now
        )
        last: datetime | None = sessions.aggregate(last=Max("booking__lapses_at"))["last"]
        return last
    if purpose != VisitPurpose.SESSION or is_agreed_for(case, start_at):
        return None
    return pencilled_until(
        now=now,
        session_starts_at=start_at,
        consultation_ends_at=_consultation_end(case, now),
        zone=case.site.zone,
    )


def is_agreed_for(case: Case, start_at: datetime) -> bool:
    held = standing(case)
    return held.agreed and held.holds_on(start_at.astimezone(case.site.zone).date())


def of_held(booking: Booking, now: datetime) -> datetime | None:
    """For the diary, when a time is booked there. Nothing is agreed with somebody who has no case yet."""
    visit = CaseVisit.objects.filter(booking=booking).select_related("case__site").first()
    if visit is None and booking.visit_type.code == VisitCode.TREATMENT:
        zone = booking.site.zone
        return pencilled_until(now=now, session_starts_at=booking.starts_at, consultation_ends_at=None, zone=zone)
    if visit is None:
        return None
    return lapses_at(visit.case, VisitPurpose(visit.purpose), start_at=booking.starts_at, now=now)


def _consultation_end(case: Case, now: datetime) -> datetime | None:
    visit = (
        case.visits.filter(
            purpose=VisitPurpose.CONSULTATION,
            booking__status__in=[Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN],
            booking__ends_at__gt=now,
        )
        .select_related("booking")
        .first()
    )
    return visit.booking.ends_at if visit else None
