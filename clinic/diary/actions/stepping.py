"""One change of a booking's status with its entry in the trail; and the end of what was held only until a moment."""

from collections.abc import Collection, Mapping
from datetime import datetime

from clinic.accounts.models import Site
from clinic.diary import tidings
from clinic.diary.locks import ran_out
from clinic.diary.models import LAPSED, Booking, Status
from clinic.diary.refusals import NotPossibleNow
from clinic.diary.waitlist import freed
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.record import record

RELEASED = "released"
# What a booking keeps when its last step is not there to be taken back.
NOTHING_TO_TAKE_BACK: Mapping[str, object] = {"status_from": "", "status_at": None, "status_by": ""}


def step(booking: Booking, allowed: Collection[Status], to: Status, changes: Mapping[str, object]) -> Booking:
    """Changes the status by a conditional update, so that of two desks one wins and the other is told."""
    changed = Booking.objects.filter(pk=booking.pk, version=booking.version, status__in=allowed).update(
        status=to, version=booking.version + 1, **changes
    )
    fresh = Booking.objects.select_related("site", "patient", "visit_type").get(pk=booking.pk)
    if not changed:
        raise NotPossibleNow(status=fresh.get_status_display())
    return fresh


def note(verb: str, booking: Booking, actor: Actor) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("booking", booking.pk),
        patient_id=booking.patient_id,
        site_id=booking.site_id,
        values={"status": str(booking.status), "reason": booking.cancel_reason, "why": str(booking.why)},
    )


def end_hold(booking: Booking, verb: str, *, actor: Actor, now: datetime) -> Booking:
    """Nobody was promised anything: it counts as no cancellation, and no one is told."""
    changes = {"cancelled_at": now, "cancelled_by": RELEASED}
    ended = step(booking, {Status.PENDING}, Status.CANCELLED, changes)
    ended.claims.update(active=False)
    freed.visit_gone(ended, now=now)
    note(verb, ended, actor)
    return ended


def lapse(booking: Booking, *, now: datetime) -> Booking:
    """A pencilled time whose date has passed: its claims are free, and the patient is told."""
    ended = {"cancelled_at": now, "cancelled_by": LAPSED, "cancel_reason": "", "sequence": booking.sequence + 1}
    lapsed = step(booking, {Status.PROPOSED}, Status.CANCELLED, {**ended, **NOTHING_TO_TAKE_BACK})
    lapsed.claims.update(active=False)
    freed.visit_gone(lapsed, now=now)
    note("diary.lapsed", lapsed, SYSTEM)
    tidings.lapsed(lapsed, actor=SYSTEM, now=now)
    return lapsed


def free_what_ran_out(site: Site, *, now: datetime) -> None:
    """Inside the transaction that wants the time. One that is dealt with elsewhere at this moment is left alone."""
    locked = ran_out(site, now=now, lock=True)
    for booking in Booking.objects.filter(pk__in=locked).order_by("pk") if locked else ():
        if booking.status == Status.PENDING:
            end_hold(booking, "diary.hold_ended", actor=SYSTEM, now=now)
        else:
            lapse(booking, now=now)
