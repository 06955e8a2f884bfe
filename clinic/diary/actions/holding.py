"""A time held for a telephone call: booked in one press, let go in one press, over by itself."""

from datetime import datetime

from django.db import transaction

from clinic.accounts.dates import clock_words
from clinic.diary import pencilling, tidings
from clinic.diary.actions.stepping import RELEASED, end_hold, note, step
from clinic.diary.models import Booking, Status
from clinic.diary.refusals import HeldByAnother, HoldEnded, NotPossibleNow
from clinic.trail.actor import SYSTEM, Actor


def book_held(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """The patient said yes; what has to be agreed first is pencilled.

    Raises HoldEnded, HeldByAnother or NotPossibleNow.
    """
    _check_holder(booking, actor)
    if booking.lapses_at is not None and booking.lapses_at <= now:
        raise HoldEnded(until=_until(booking))
    with transaction.atomic():
        lapses_at = pencilling.until(booking, now=now)
        to = Status.PROPOSED if lapses_at else Status.BOOKED
        booking = step(booking, {Status.PENDING}, to, {"lapses_at": lapses_at, "booked_at": now})
        note("diary.hold_pencilled" if lapses_at else "diary.hold_booked", booking, actor)
        tidings.booked(booking, actor=actor, now=now)
    return booking


def let_go(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """Frees the time at once. Raises HeldByAnother or NotPossibleNow."""
    _check_holder(booking, actor)
    with transaction.atomic():
        return end_hold(booking, "diary.hold_let_go", actor=actor, now=now)


def end_holds_due(*, now: datetime) -> int:
    """Frees every hold that ran out. Searches and bookings do not wait for it."""
    done = 0
    for booking in Booking.objects.ended_holds(now=now).order_by("pk"):
        try:
            with transaction.atomic():
                end_hold(booking, "diary.hold_ended", actor=SYSTEM, now=now)
        except NotPossibleNow:
            continue  # booked, let go or freed by somebody while this ran
        done += 1
    return done


def _check_holder(booking: Booking, actor: Actor) -> None:
    if booking.cancelled_by == RELEASED and booking.booked_by_actor == actor.id:
        raise HoldEnded(until=_until(booking))
    if booking.status != Status.PENDING:
        raise NotPossibleNow(status=booking.get_status_display())
    if booking.booked_by_actor != actor.id:
        raise HeldByAnother(who=booking.booked_by, until=_until(booking))


def _until(booking: Booking) -> str:
    return clock_words(booking.lapses_at, booking.site.zone) if booking.lapses_at else ""
