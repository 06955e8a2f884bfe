"""Giving a time: booking or pencilling a visit, moving it, fitting it to a changed plan."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from django.db import transaction

from clinic.accounts.models import Site
from clinic.diary import earliest, own_changes, pencilling, tidings
from clinic.diary.actions.life import check_not_run_out
from clinic.diary.actions.placing import (
    check_patient_is_free,
    claim,
    free_at,
    lock,
    taken_means_taken,
    times,
)
from clinic.diary.locks import lock_patient
from clinic.diary.models import MOVABLE, Booking, LateAnswer, OwnAct, Status, VisitType
from clinic.diary.openings import Opening, Wanted
from clinic.diary.refusals import ChangedMeanwhile, InThePast, NotPossibleNow
from clinic.diary.waitlist import freed
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.readymade import write_new
from clinic.trail.record import record

# How long a time is held for a telephone call (common practice, no source).
HOLD_FOR = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class BookingRequest:
    """What is to be booked. lapses_at makes it a pencilled time that ends by itself."""

    patient: Patient
    visit_type: VisitType
    start_at: datetime
    cycles: int = 0
    light_kind: str = ""
    person: int | None = None
    lapses_at: datetime | None = None
    note: str = ""
    only: Mapping[str, int] = field(default_factory=dict)
    """For some needs the one resource that is to serve them."""
    cycle_minutes: int = 0

    def wanted(self) -> Wanted:
        return Wanted(
            self.visit_type,
            self.cycles,
            self.light_kind,
            self.person,
            only=self.only,
            cycle_minutes=self.cycle_minutes,
        )


def book(*, site: Site, request: BookingRequest, actor: Actor, now: datetime, tell: bool = True) -> Booking:
    """Books the visit, or pencils it when the request lapses.

    Raises InThePast; OutsideOpeningHours when no combination was ever free then, SlotTaken when another
    desk was faster; PatientBusy.
    """
    if request.start_at < now:
        raise InThePast
    status = Status.PROPOSED if request.lapses_at else Status.BOOKED
    with taken_means_taken(), transaction.atomic():
        booking = _place(site, request, status, actor, now)
        _record("diary.pencilled" if request.lapses_at else "diary.booked", booking, actor)
        if tell:
            tidings.booked(booking, actor=actor, now=now)
    return booking


def hold(*, site: Site, request: BookingRequest, actor: Actor, now: datetime) -> Booking:
    """Holds the time while the desk talks with the patient on the telephone, who is told nothing yet.

    It claims what the visit would, so nobody else can have it; it ends by itself when the request lapses, or
    after HOLD_FOR.
    Raises what `book` raises.
    """
    if request.start_at < now:
        raise InThePast
    request = replace(request, lapses_at=request.lapses_at or now + HOLD_FOR)
    with taken_means_taken(), transaction.atomic():
        booking = _place(site, request, Status.PENDING, actor, now)
        _record("diary.held", booking, actor)
    return booking


def move(
    *,
    booking: Booking,
    start_at: datetime,
    actor: Actor,
    now: datetime,
    person: int | None = None,
    only: Mapping[str, int] | None = None,
) -> Booking:
    """Moves a visit to another time; its claims and messages follow in the same transaction.

    only: for some needs the one resource that is to serve them. Raises what `book` raises, and the refusal of
    the room whose visit would be too early.
    """
    if start_at < now:
        raise InThePast
    earliest.check(booking, start_at=start_at)
    was_at = booking.starts_at
    wanted = Wanted(
        booking.visit_type,
        booking.agreed_cycles,
        booking.light_kind,
        person,
        without_booking=booking.pk,
        only=only or {},
        cycle_minutes=booking.cycle_minutes,
    )
    check_may_change(booking, now=now)
    with taken_means_taken(), transaction.atomic():
        booking = place_again(booking, wanted, start_at, now)
        # Asked again: another visit of theirs may have moved until it was this one's turn.
        earliest.check(booking, start_at=start_at)
        # At another time there is room again for what a late start had left out.
        booking.cycles, booking.cycles_before, booking.late_minutes = wanted.cycles, None, 0
        booking.accepted_at = None
        booking.lapses_at = _lapses_at(booking, now)
        booking.save()
        # What was asked about the time that it had, nobody has to answer any more.
        booking.late_questions.filter(answer=LateAnswer.NONE).delete()
        _record("diary.moved", booking, actor)
        own_changes.note(OwnAct.MOVED, booking, actor=actor, now=now, was_at=was_at)
        tidings.moved(booking, actor=actor, now=now)
    return booking


def _lapses_at(booking: Booking, now: datetime) -> datetime | None:
    """A pencilled time keeps its date, but what moves forward lapses before it begins, as if it were pencilled now."""
    if booking.status != Status.PROPOSED:
        return booking.lapses_at
    anew = pencilling.until(booking, now=now)
    return min(one for one in (booking.lapses_at, anew, booking.starts_at) if one is not None)


def refit(
    *, booking: Booking, cycles: int, light_kind: str, actor: Actor, now: datetime, cycle_minutes: int = 0
) -> Booking:
    """The same start with another length or light, as the plan now asks; the caller tells the patient."""
    wanted = Wanted(booking.visit_type, cycles, light_kind, without_booking=booking.pk, cycle_minutes=cycle_minutes)
    check_may_change(booking, now=now)
    with taken_means_taken(), transaction.atomic():
        booking = place_again(booking, wanted, booking.starts_at, now)
        booking.cycles, booking.light_kind, booking.cycle_minutes = cycles, light_kind, cycle_minutes
        booking.cycles_before, booking.late_minutes = None, 0
        booking.save()
        _record("diary.moved", booking, actor)
    return booking


def _place(site: Site, request: BookingRequest, status: Status, actor: Actor, now: datetime) -> Booking:
    lock(site, request.patient, now=now)
    opening = free_at(site=site, wanted=request.wanted(), start_at=request.start_at, now=now)
    check_patient_is_free(request.patient, opening)
    booking = _make(site, request, status, opening, actor, now)
    claim(booking, opening)
    return booking


def _make(
    site: Site, request: BookingRequest, status: Status, opening: Opening, actor: Actor, now: datetime
) -> Booking:
    booking = Booking(
        site=site,
        patient=request.patient,
        visit_type=request.visit_type,
        status=status,
        cycles=request.cycles,
        light_kind=request.light_kind,
        cycle_minutes=request.cycle_minutes,
        lapses_at=request.lapses_at,
        note=request.note,
        booked_at=now,
        booked_by=actor.name,
        booked_by_actor=actor.id,
        **times(site, opening),
    )
    write_new(booking)
    return booking


def check_may_change(booking: Booking, *, now: datetime, allowed: Collection[Status] = MOVABLE) -> None:
    if booking.status not in allowed:
        raise NotPossibleNow(status=booking.get_status_display())
    check_not_run_out(booking, now=now)


def place_again(
    booking: Booking, wanted: Wanted, start_at: datetime, now: datetime, *, allowed: Collection[Status] = MOVABLE
) -> Booking:
    """Frees the claims and claims anew; an overlap rolls both back with the caller's transaction."""
    lock_patient(booking.patient)
    held = Booking.objects.select_for_update(no_key=True, of=("self",)).select_related("site", "patient", "visit_type")
    fresh = held.get(pk=booking.pk)
    if fresh.status not in allowed:
        raise NotPossibleNow(status=fresh.get_status_display())
    if fresh.version != booking.version:
        raise ChangedMeanwhile
    # Whoever wants a time frees what ran out, and must not free the visit that is being moved.
    check_not_run_out(fresh, now=now)
    lock(fresh.site, fresh.patient, now=now)
    opening = free_at(site=fresh.site, wanted=wanted, start_at=start_at, now=now)
    check_patient_is_free(fresh.patient, opening, without=fresh.pk)
    freed.visit_gone(fresh, now=now)
    fresh.claims.all().delete()
    for name, value in times(fresh.site, opening).items():
        setattr(fresh, name, value)
    # Start or end differ now: calendar programs follow the higher SEQUENCE (RFC 5546, 2.1.4).
    fresh.sequence += 1
    fresh.version += 1
    claim(fresh, opening)
    return fresh


def _record(verb: str, booking: Booking, actor: Actor) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("booking", booking.pk),
        patient_id=booking.patient_id,
        site_id=booking.site_id,
        values={
            "visit": booking.visit_type.name,
            "wall_on": booking.wall_on.isoformat(),
            "wall_time": booking.wall_time.isoformat("minutes"),
            "status": str(booking.status),
        },
    )
