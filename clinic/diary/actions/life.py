"""The life of a booking: confirmed, here, in the chair, finished; or cancelled, lapsed, not come."""

from datetime import datetime

from django.db import transaction

from clinic.diary import tidings
from clinic.diary.actions.placing import lock, taken_means_taken
from clinic.diary.actions.stepping import RELEASED, note, step
from clinic.diary.models import Booking, Status
from clinic.diary.refusals import InThePast, NotPossibleNow
from clinic.trail.actor import SYSTEM, Actor

CANCELLABLE = frozenset({Status.PROPOSED, Status.BOOKED, Status.ARRIVED})


def confirm(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """A pencilled time becomes a booked one."""
    with transaction.atomic():
        booking = step(booking, {Status.PROPOSED}, Status.BOOKED, {"lapses_at": None})
        note("diary.confirmed", booking, actor)
        tidings.confirmed(booking, actor=actor, now=now)
    return booking


def arrive(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    with transaction.atomic():
        booking = step(booking, {Status.BOOKED}, Status.ARRIVED, {"arrived_at": now})
        note("diary.arrived", booking, actor)
    return booking


def check_in(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """Into the chair; a patient who walked straight in is also noted as here."""
    with transaction.atomic():
        arrived_at = booking.arrived_at or now
        booking = step(booking, {Status.BOOKED, Status.ARRIVED}, Status.CHECKED_IN, {"arrived_at": arrived_at})
        note("diary.checked_in", booking, actor)
    return booking


def finish(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    with transaction.atomic():
        booking = step(booking, {Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}, Status.FULFILLED, {})
        note("diary.finished", booking, actor)
    return booking


def no_show(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    with transaction.atomic():
        booking = step(booking, {Status.BOOKED}, Status.NOSHOW, {})
        note("diary.did_not_come", booking, actor)
        tidings.ended(booking, actor=actor, now=now)
    return booking


def cancel(*, booking: Booking, by: str, reason: str, actor: Actor, now: datetime) -> Booking:
    """by is "patient" or "practice". The claims are freed in the same transaction."""
    with transaction.atomic():
        booking = _cancel(booking, by=by, reason=reason, now=now)
        note("diary.cancelled", booking, actor)
        tidings.cancelled(booking, actor=actor, now=now)
    return booking


def take_back(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """Undoes the last step of the desk: here, did not come, cancelled.

    A cancelled visit comes back only while its time lies ahead and is free: the database says so
    (SlotTaken). A pencilled time that has lapsed does not come back; it is booked anew.
    """
    if booking.status == Status.CANCELLED:
        return _restore(booking, actor=actor, now=now)
    with transaction.atomic():
        booking = step(booking, {Status.ARRIVED, Status.NOSHOW}, Status.BOOKED, {"arrived_at": None})
        note("diary.status_undone", booking, actor)
    return booking


def lapse_due(*, now: datetime) -> int:
    """Lets every pencilled time go whose date has passed, and tells the patient; the desk sees it on Today."""
    due = Booking.objects.filter(status=Status.PROPOSED, lapses_at__lte=now).order_by("pk")
    done = 0
    for booking in due:
        try:
            with transaction.atomic():
                lapsed = _cancel(booking, by="lapsed", reason="", now=now)
                note("diary.lapsed", lapsed, SYSTEM)
                tidings.lapsed(lapsed, actor=SYSTEM, now=now)
        except NotPossibleNow:
            continue  # confirmed or cancelled by somebody while this ran
        done += 1
    return done


def _cancel(booking: Booking, *, by: str, reason: str, now: datetime) -> Booking:
    booking = step(
        booking,
        CANCELLABLE,
        Status.CANCELLED,
        {"cancelled_at": now, "cancelled_by": by, "cancel_reason": reason, "sequence": booking.sequence + 1},
    )
    booking.claims.update(active=False)
    return booking


def _restore(booking: Booking, *, actor: Actor, now: datetime) -> Booking:
    if booking.starts_at < now:
        raise InThePast
    if booking.cancelled_by == RELEASED:
        raise NotPossibleNow(status=booking.get_status_display())
    pencilled = booking.lapses_at is not None
    if booking.lapses_at is not None and booking.lapses_at <= now:
        raise NotPossibleNow(status=booking.get_status_display())
    changes = {"cancelled_at": None, "cancelled_by": "", "cancel_reason": "", "sequence": booking.sequence + 1}
    with taken_means_taken(), transaction.atomic():
        lock(booking.site, booking.patient, now=now)
        booking = step(booking, {Status.CANCELLED}, Status.PROPOSED if pencilled else Status.BOOKED, changes)
        booking.claims.update(active=True)
        note("diary.status_undone", booking, actor)
        tidings.restored(booking, actor=actor, now=now)
    return booking
