"""What a patient's page asks about a visit."""

from datetime import datetime

from clinic.accounts.models import ShortNotice
from clinic.diary.models import Booking, Status, TimeInvitation, VisitType
from clinic.diary.openings import Wanted
from clinic.diary.patients_alone import patient_window
from clinic.diary.selfservice.limits import Limits, limits_of
from clinic.diary.selfservice.rules import Offer, VisitFacts, narrowed, offered


def offer_of(booking: Booking, *, now: datetime) -> Offer:
    return offered(_facts(booking), now=now)


def _facts(booking: Booking) -> VisitFacts:
    return VisitFacts(
        starts_at=booking.starts_at,
        is_booked=booking.status == Status.BOOKED,
        is_pencilled=booking.status == Status.PROPOSED,
        is_accepted=booking.accepted_at is not None,
        may_move=booking.visit_type.patient_may_move,
        notice_hours=booking.site.notice_hours,
        takes_late=booking.site.short_notice == ShortNotice.ACCEPT,
    )


def moving_wanted(booking: Booking, *, now: datetime) -> Wanted:
    """The same visit: its length, its light, whoever suits."""
    return Wanted(
        booking.visit_type,
        booking.agreed_cycles,
        booking.light_kind,
        without_booking=booking.pk,
        now=now,
        cycle_minutes=booking.cycle_minutes,
    )


def moving_range(booking: Booking, *, now: datetime) -> tuple[datetime, datetime]:
    """Between which moments the patient may put it; empty where only the practice moves it."""
    limits = limits_of(booking, now=now)
    if limits.is_closed:
        return now, now
    return _within(booking.visit_type, limits, now)


def picking_range(invitation: TimeInvitation, limits: Limits, *, now: datetime) -> tuple[datetime, datetime]:
    """Between which moments the patient may pick; empty where the practice has closed that meanwhile."""
    visit_type = invitation.visit_type
    if limits.is_closed or not (visit_type.active and visit_type.patient_may_book):
        return now, now
    return _within(visit_type, limits, now)


def _within(visit_type: VisitType, limits: Limits, now: datetime) -> tuple[datetime, datetime]:
    window = patient_window(visit_type, now=now)
    return narrowed(window, earliest_at=limits.earliest_at, latest_at=limits.latest_at)
