"""Taking back the last step of a visit, and then the one before: on the same day, by whoever took it; the patient's
own by anybody here.
"""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from clinic.diary import restoring, tidings
from clinic.diary.actions.placing import check_patient_stays_free, lock, taken_means_taken
from clinic.diary.actions.stepping import NOTHING_TO_TAKE_BACK, note, step
from clinic.diary.locks import lock_patient
from clinic.diary.models import Booking, Status, VisitCode, Why
from clinic.diary.refusals import InThePast, NotPossibleNow, NotYoursToTakeBack
from clinic.trail.actor import Actor
from clinic.trail.models import TrailEntry

TAKEN_BACK = frozenset({Status.ARRIVED, Status.CHECKED_IN, Status.FULFILLED, Status.NOSHOW, Status.CANCELLED})

_CAME_FROM = {Status.ARRIVED: Status.BOOKED, Status.CHECKED_IN: Status.ARRIVED}
# Who walked straight into the chair is noted as here by that.
_LED_TO = {Status.ARRIVED: ("diary.arrived", "diary.checked_in"), Status.CHECKED_IN: ("diary.checked_in",)}


def can_take_back(booking: Booking, *, actor: Actor, now: datetime) -> bool:
    return _has_something(booking) and _is_theirs(booking, actor, now)


def take_back(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """Undoes the last step: here, in the chair, finished, did not come, cancelled.

    A cancelled visit comes back only while its time lies ahead and is free: the database says so
    (SlotTaken). For it, and for one who came after all, the room whose visit it is may have an objection
    of its own. A pencilled time that has lapsed does not come back; it is booked anew.
    """
    if not _has_something(booking):
        raise NotPossibleNow(status=booking.get_status_display())
    if not _is_theirs(booking, actor, now):
        raise NotYoursToTakeBack
    if booking.status == Status.CANCELLED:
        return _restore(booking, actor=actor, now=now)
    before = Status(booking.status_from)
    changes = {"why": Why.NOT_SAID, "cancel_reason": "", **_made_before(booking, before)}
    if before == Status.BOOKED:
        changes["arrived_at"] = None
    with transaction.atomic():
        if booking.status == Status.NOSHOW:
            # It counts again: what was given out instead of it meanwhile is not there twice.
            lock_patient(booking.patient)
            restoring.returns(booking, actor=actor, now=now)
        booking = step(booking, TAKEN_BACK - {Status.CANCELLED}, before, changes)
        note("diary.status_undone", booking, actor)
    return booking


def _made_before(booking: Booking, status: Status) -> Mapping[str, object]:
    """The step that led to this status may be taken back in turn: three keys on a wrong row write down no visit."""
    entries = TrailEntry.objects.about("booking", booking.pk).order_by("-pk")
    found = (entries.filter(verb=verb).first() for verb in _LED_TO.get(status, ()))
    made = next(filter(None, found), None)
    if made is None:
        return NOTHING_TO_TAKE_BACK
    return {"status_from": _CAME_FROM[status], "status_at": made.happened_at, "status_by": made.actor_id}


def _has_something(booking: Booking) -> bool:
    """A treatment that has begun is opened and closed at the chair, with a record of its own."""
    begun = booking.status in {Status.CHECKED_IN, Status.FULFILLED}
    at_the_chair = begun and booking.visit_type.code == VisitCode.TREATMENT
    return booking.status in TAKEN_BACK and bool(booking.status_from) and not at_the_chair


def _is_theirs(booking: Booking, actor: Actor, now: datetime) -> bool:
    if booking.status_at is None or booking.status_by not in {"", actor.id}:
        return False
    zone = booking.site.zone
    return booking.status_at.astimezone(zone).date() == now.astimezone(zone).date()


def _restore(booking: Booking, *, actor: Actor, now: datetime) -> Booking:
    if booking.starts_at < now:
        raise InThePast
    if booking.lapses_at is not None and booking.lapses_at <= now:
        raise NotPossibleNow(status=booking.get_status_display())
    # Whoever had been here and left is not here again.
    before = Status.PROPOSED if booking.status_from == Status.PROPOSED else Status.BOOKED
    ended = {"cancelled_at": None, "cancelled_by": "", "cancel_reason": "", "sequence": booking.sequence + 1}
    ended |= {"why": Why.NOT_SAID, "notice_hours": None, "arrived_at": None}
    with taken_means_taken(), transaction.atomic():
        lock(booking.site, booking.patient, now=now)
        check_patient_stays_free(booking)
        restoring.returns(booking, actor=actor, now=now)
        booking = step(booking, {Status.CANCELLED}, before, {**ended, **NOTHING_TO_TAKE_BACK})
        booking.claims.update(active=True)
        note("diary.status_undone", booking, actor)
        tidings.restored(booking, actor=actor, now=now)
    return booking
