"""A visit given on the diary's own pages: the room that knows what it is for takes it in, as on that room's page."""

from datetime import datetime

from clinic.accounts.models import Site
from clinic.diary import earliest, pencilling, tidings
from clinic.diary.actions.booking import BookingRequest, book, hold
from clinic.diary.actions.placing import one_at_a_time, told_of_their_own
from clinic.diary.actions.stepping import note, step
from clinic.diary.models import Booking, Status
from clinic.diary.waitlist import taking
from clinic.trail.actor import Actor


def book_alone(*, site: Site, request: BookingRequest, actor: Actor, now: datetime) -> Booking:
    """Only pencilled where something has to be agreed first. Raises what `book` raises, and its room's refusal."""
    with told_of_their_own(request.patient, request.start_at, now=now), one_at_a_time(request.patient):
        booking = book(site=site, request=request, actor=actor, now=now, tell=False)
        _take_in(booking, actor, now)
        until = pencilling.until(booking, now=now)
        if until is not None:
            booking = step(booking, {Status.BOOKED}, Status.PROPOSED, {"lapses_at": until})
            note("diary.pencilled", booking, actor)
        tidings.booked(booking, actor=actor, now=now)
    return booking


def hold_alone(*, site: Site, request: BookingRequest, actor: Actor, now: datetime) -> Booking:
    """Raises what `book_alone` raises; whoever books it later pencils it by the same rule."""
    with told_of_their_own(request.patient, request.start_at, now=now), one_at_a_time(request.patient):
        booking = hold(site=site, request=request, actor=actor, now=now)
        _take_in(booking, actor, now)
    return booking


def _take_in(booking: Booking, actor: Actor, now: datetime) -> None:
    taking.booked(booking, actor=actor, now=now)
    earliest.check(booking, start_at=booking.starts_at)
