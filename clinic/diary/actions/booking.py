"""Giving a time. The resources are locked in id order first; the database refuses an overlap."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import IntegrityError, OperationalError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site
from clinic.diary import openings, tidings
from clinic.diary.models import HOLDING, Booking, Resource, ResourceClaim, Status, VisitType
from clinic.diary.openings import Opening, Wanted, visit_shape
from clinic.diary.overlap import CONSTRAINT
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal


class SlotTaken(Refusal):
    code = "diary.slot_taken"
    sentence = _("That time has just been taken. Pick one of the next free times.")


class OutsideOpeningHours(Refusal):
    code = "diary.no_opening"
    sentence = _("Nobody and nothing suitable is free at that time any more. Pick one of the next free times.")


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

    def wanted(self, *, without_booking: int | None = None) -> Wanted:
        return Wanted(self.visit_type, self.cycles, self.light_kind, self.person, without_booking)


def book(*, site: Site, request: BookingRequest, actor: Actor, now: datetime, tell: bool = True) -> Booking:
    """Books the visit, or pencils it when the request lapses.

    Raises OutsideOpeningHours when the engine finds no free combination, SlotTaken when another desk won the race.
    """
    with _taken_means_taken(), transaction.atomic():
        opening = _opening_at(site, request.wanted(), request.start_at)
        booking = Booking.objects.create(
            site=site,
            patient=request.patient,
            visit_type=request.visit_type,
            status=Status.PROPOSED if request.lapses_at else Status.BOOKED,
            cycles=request.cycles,
            light_kind=request.light_kind,
            lapses_at=request.lapses_at,
            note=request.note,
            booked_at=now,
            booked_by=actor.name,
            **_times(site, opening),
        )
        _claim(booking, opening, request.wanted())
        _record("diary.pencilled" if request.lapses_at else "diary.booked", booking, actor)
        if tell:
            tidings.booked(booking, actor=actor, now=now)
    return booking


def move(*, booking: Booking, start_at: datetime, actor: Actor, now: datetime, person: int | None = None) -> Booking:
    """Moves a visit to another time; its claims and messages follow in the same transaction."""
    wanted = Wanted(booking.visit_type, booking.cycles, booking.light_kind, person, booking.pk)
    with _taken_means_taken(), transaction.atomic():
        booking = _place_again(booking, wanted, start_at)
        booking.sequence += 1
        booking.save()
        _record("diary.moved", booking, actor)
        tidings.moved(booking, actor=actor, now=now)
    return booking


def refit(*, booking: Booking, cycles: int, light_kind: str, actor: Actor, now: datetime) -> Booking:
    """The same start with another length or light, as the plan now asks; the caller tells the patient."""
    wanted = Wanted(booking.visit_type, cycles, light_kind, None, booking.pk)
    with _taken_means_taken(), transaction.atomic():
        booking = _place_again(booking, wanted, booking.starts_at)
        booking.cycles, booking.light_kind = cycles, light_kind
        booking.save()
        _record("diary.moved", booking, actor)
    return booking


def _place_again(booking: Booking, wanted: Wanted, start_at: datetime) -> Booking:
    """Frees the claims and claims anew; an overlap rolls both back with the caller's transaction."""
    held = Booking.objects.select_for_update().get(pk=booking.pk)
    if held.version != booking.version or held.status not in HOLDING:
        raise SlotTaken
    opening = _opening_at(held.site, wanted, start_at)
    held.claims.all().delete()
    for name, value in _times(held.site, opening).items():
        setattr(held, name, value)
    held.version += 1
    _claim(held, opening, wanted)
    return held


def _opening_at(site: Site, wanted: Wanted, start_at: datetime) -> Opening:
    """The free combination for exactly this start; asked again under lock by the claims themselves."""
    # A start between two quarter hours is on no grid: it is not an opening.
    found = openings.find(
        site=site, wanted=wanted, earliest_at=start_at, latest_at=start_at + timedelta(minutes=1), limit=1
    ).found
    if not found or found[0].start_at != start_at:
        raise OutsideOpeningHours
    return found[0]


def _times(site: Site, opening: Opening) -> dict[str, object]:
    wall = opening.start_at.astimezone(site.zone)
    return {
        "wall_on": wall.date(),
        "wall_time": wall.time(),
        "zone": site.timezone,
        "starts_at": opening.start_at,
        "ends_at": opening.end_at,
    }


def _claim(booking: Booking, opening: Opening, wanted: Wanted) -> None:
    """One row per claimed resource and segment. Locks the resources in id order, so that no two desks deadlock."""
    _lock(sorted(one.pk for one in opening.chosen.values()))
    ResourceClaim.objects.bulk_create(
        ResourceClaim(
            booking=booking,
            resource=opening.chosen[need],
            need=need,
            segment=stretch.segment,
            start_at=opening.start_at + timedelta(minutes=stretch.offset),
            end_at=opening.start_at + timedelta(minutes=stretch.offset + stretch.minutes),
        )
        for need, stretches in visit_shape(wanted).parts.items()
        for stretch in stretches
    )


def _lock(resource_ids: Sequence[int]) -> None:
    # Evaluated on purpose: a queryset that nobody reads locks nothing.
    list(Resource.objects.select_for_update().filter(pk__in=resource_ids).order_by("pk").values_list("pk"))


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


@contextmanager
def _taken_means_taken() -> Iterator[None]:
    """Overlap, deadlock and lock time-out all mean the same to the desk: somebody else was faster."""
    try:
        yield
    except (IntegrityError, OperationalError) as error:
        if not _is_conflict(error):
            raise
        raise SlotTaken from error


def _is_conflict(error: Exception) -> bool:
    # PostgreSQL: exclusion_violation, deadlock_detected, lock_not_available (Appendix A of its manual).
    state = getattr(error.__cause__, "sqlstate", None)
    return state in {"23P01", "40P01", "55P03"} or CONSTRAINT in str(error) or "database is locked" in str(error)
