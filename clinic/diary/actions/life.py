"""The life of a booking: confirmed, here, in the chair, finished; or cancelled, lapsed, not come."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from clinic.accounts.dates import moment_words
from clinic.diary import tidings
from clinic.diary.actions.stepping import NOTHING_TO_TAKE_BACK, lapse, note, step
from clinic.diary.models import Booking, Status, Why
from clinic.diary.refusals import NotPossibleNow, PencilEnded
from clinic.diary.waitlist import freed
from clinic.trail.actor import Actor

CANCELLABLE = frozenset({Status.PROPOSED, Status.BOOKED, Status.ARRIVED})


def confirm(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """A pencilled time becomes a booked one. Raises PencilEnded or NotPossibleNow."""
    check_pencilled(booking, now=now)
    with transaction.atomic():
        booking = step(booking, {Status.PROPOSED}, Status.BOOKED, {"lapses_at": None, **NOTHING_TO_TAKE_BACK})
        note("diary.confirmed", booking, actor)
        tidings.confirmed(booking, actor=actor, now=now)
    return booking


def check_pencilled(booking: Booking, *, now: datetime) -> None:
    """After its date a pencilled time is anybody's, whether or not a tick has come."""
    if booking.status != Status.PROPOSED:
        raise NotPossibleNow(status=booking.get_status_display())
    check_not_run_out(booking, now=now)


def check_not_run_out(booking: Booking, *, now: datetime) -> None:
    if booking.status == Status.PROPOSED and booking.lapses_at is not None and booking.lapses_at <= now:
        raise PencilEnded(until=moment_words(booking.lapses_at, booking.site.zone))


def hear_that_they_come(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """Said on the telephone, for the list of those who have not confirmed. Raises NotPossibleNow."""
    with transaction.atomic():
        booking = step(booking, {Status.BOOKED}, Status.BOOKED, {"accepted_at": now})
        note("diary.heard_they_come", booking, actor)
    return booking


def arrive(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    with transaction.atomic():
        booking = step(booking, {Status.BOOKED}, Status.ARRIVED, _stepped(booking, actor, now) | {"arrived_at": now})
        note("diary.arrived", booking, actor)
    return booking


def check_in(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """Into the chair; a patient who walked straight in is also noted as here."""
    with transaction.atomic():
        changes = _stepped(booking, actor, now) | {"arrived_at": booking.arrived_at or now}
        booking = step(booking, {Status.BOOKED, Status.ARRIVED}, Status.CHECKED_IN, changes)
        note("diary.checked_in", booking, actor)
    return booking


def finish(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    with transaction.atomic():
        allowed = {Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}
        booking = step(booking, allowed, Status.FULFILLED, _stepped(booking, actor, now))
        note("diary.finished", booking, actor)
    return booking


def no_show(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    with transaction.atomic():
        booking = step(booking, {Status.BOOKED}, Status.NOSHOW, _stepped(booking, actor, now))
        note("diary.did_not_come", booking, actor)
        tidings.ended(booking, actor=actor, now=now)
    return booking


def cancel(*, booking: Booking, by: str, reason: str, actor: Actor, now: datetime, why: str = Why.NOT_SAID) -> Booking:
    """by is "patient" or "practice"; reason adds words to why. The claims are freed in the same transaction."""
    changes = _stepped(booking, actor, now) | {"why": why, "notice_hours": booking.site.notice_hours}
    with transaction.atomic():
        booking = _cancel(booking, by=by, reason=reason, now=now, changes=changes)
        note("diary.cancelled", booking, actor)
        tidings.cancelled(booking, actor=actor, now=now)
    return booking


def give_up(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """The practice lets a pencilled time go before its date; one that was confirmed meanwhile stands."""
    check_pencilled(booking, now=now)
    return cancel(booking=booking, by="practice", reason="", actor=actor, now=now)


def note_why(*, booking: Booking, why: str, reason: str, actor: Actor) -> Booking:
    """Of a visit to which the patient did not come, once somebody hears of it. It changes nothing else."""
    with transaction.atomic():
        booking = step(booking, {Status.NOSHOW}, Status.NOSHOW, {"why": why, "cancel_reason": reason})
        note("diary.why_noted", booking, actor)
    return booking


def lapse_due(*, now: datetime) -> int:
    """Lets every pencilled time go whose date has passed, and tells the patient; the desk sees it on Today."""
    due = Booking.objects.filter(status=Status.PROPOSED, lapses_at__lte=now).order_by("pk")
    done = 0
    for booking in due:
        try:
            with transaction.atomic():
                lapse(booking, now=now)
        except NotPossibleNow:
            continue  # confirmed or cancelled by somebody while this ran
        done += 1
    return done


def _stepped(booking: Booking, actor: Actor, now: datetime) -> dict[str, object]:
    # What the patient did alone is nobody's at the desk, so anybody there may take it back.
    by = "" if actor.kind == "patient" else actor.id
    return {"status_from": booking.status, "status_at": now, "status_by": by}


def _cancel(booking: Booking, *, by: str, reason: str, now: datetime, changes: Mapping[str, object]) -> Booking:
    ended = {"cancelled_at": now, "cancelled_by": by, "cancel_reason": reason, "sequence": booking.sequence + 1}
    booking = step(booking, CANCELLABLE, Status.CANCELLED, {**changes, **ended})
    booking.claims.update(active=False)
    freed.visit_gone(booking, now=now)
    return booking
