"""One change of a booking's status with its entry in the trail; and the end of a hold, which frees its time."""

from collections.abc import Collection, Mapping
from datetime import datetime

from clinic.accounts.models import Site
from clinic.diary.models import Booking, Status
from clinic.diary.refusals import NotPossibleNow
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
    note(verb, ended, actor)
    return ended


def free_ended_holds(site: Site, *, now: datetime) -> None:
    """Inside the transaction that wants the time. One that is dealt with elsewhere at this moment is left alone."""
    rows = Booking.objects.ended_holds(now=now).filter(site=site).order_by("pk")
    for booking in list(rows.select_for_update(no_key=True, skip_locked=True)):
        end_hold(booking, "diary.hold_ended", actor=SYSTEM, now=now)
