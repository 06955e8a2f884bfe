"""Finding and holding the resources of one visit. Locked in one order first; the database refuses an overlap."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta

from django.db import IntegrityError, OperationalError, transaction
from django.db.models import Q

from clinic.accounts.dates import clock_words
from clinic.accounts.models import Site
from clinic.diary.actions.stepping import free_what_ran_out
from clinic.diary.locks import lock_patient, lock_resources
from clinic.diary.models import COMING, LONGEST, Booking, ResourceClaim
from clinic.diary.openings import Opening, Search, Wanted
from clinic.diary.overlap import CONSTRAINT
from clinic.diary.refusals import OutsideOpeningHours, PatientBusy, SlotTaken
from clinic.patients.models import Patient
from clinic.trail.readymade import Blank, Statement, blanks, once, select, write_new

# A visit's last minutes are turn-round, when the patient has left the chair (common practice, no source).
TURN_ROUND = timedelta(minutes=15)


def lock(site: Site, patient: Patient, *, now: datetime) -> None:
    """The patient, then everything bookable in id order: whoever books here waits for the one before.

    Holds and pencilled times that ran out give their time back here: no tick is needed for it.
    """
    lock_patient(patient)
    lock_resources(site)
    free_what_ran_out(site, now=now)


@contextmanager
def one_at_a_time(patient: Patient) -> Iterator[None]:
    """A transaction in which nobody else gives this patient a time: what is read of their visits holds to its end."""
    with taken_means_taken(), transaction.atomic():
        lock_patient(patient)
        yield


def free_at(*, site: Site, wanted: Wanted, start_at: datetime, now: datetime) -> Opening:
    """The free combination for exactly this start. Under the lock all of it is read, hours too, and read once."""
    day = start_at.astimezone(site.zone).date()
    return opening_at(Search(site=site, wanted=replace(wanted, now=now), day=day), start_at)


def opening_at(look: Search, start_at: datetime) -> Opening:
    """Raises OutsideOpeningHours or SlotTaken."""
    found = look.exactly(start_at)
    if found is not None:
        return found
    # Free but for the visits of others: somebody was faster. Otherwise it was never on offer.
    raise OutsideOpeningHours if look.exactly(start_at, claims=False) is None else SlotTaken


def check_patient_is_free(patient: Patient, opening: Opening, *, without: int | None = None) -> None:
    """Nobody sits in two chairs; a double press must not book two rooms."""
    _check_free(patient, opening.start_at, opening.end_at, without=without)


@contextmanager
def told_of_their_own(patient: Patient, start_at: datetime, *, now: datetime) -> Iterator[None]:
    """Pressed once more, or on a second page: what took the time is this patient's own visit, nobody was faster."""
    try:
        yield
    except SlotTaken:
        own = Booking.objects.filter(patient=patient, starts_at=start_at, status__in=COMING)
        for other in own.without_what_ran_out(now=now).select_related("visit_type").order_by("pk")[:1]:
            raise _busy_with(other) from None
        raise


def check_patient_stays_free(booking: Booking) -> None:
    """For a visit that comes back to its own time."""
    _check_free(booking.patient, booking.starts_at, booking.ends_at, without=booking.pk)


def _check_free(patient: Patient, start_at: datetime, end_at: datetime, *, without: int | None) -> None:
    sits_from, sits_until = start_at + TURN_ROUND, end_at - TURN_ROUND
    found = _in_the_way().rows(
        patient=patient.pk,
        without=without or 0,
        start_at=start_at,
        earliest_at=sits_from - LONGEST,
        sits_from=sits_from,
        sits_until=sits_until,
    )
    if found:
        other = Booking.objects.select_related("visit_type").get(pk=found[0][0])
        raise _busy_with(other)


def _busy_with(other: Booking) -> PatientBusy:
    return PatientBusy(visit=f"{other.visit_type.name}, {clock_words(other.wall_time)}")


@once
def _in_the_way() -> Statement:
    """The first other visit of the patient at that time, as `BookingQuerySet.between` says it."""

    def at(name: str) -> Blank:
        return Blank(name, Booking._meta.get_field("starts_at"))

    others = Booking.objects.filter(**blanks(Booking, "patient"), status__in=COMING)
    meets = Q(starts_at__gt=at("earliest_at"), starts_at__lt=at("sits_until"), ends_at__gt=at("sits_from"))
    rows = others.exclude(pk=Blank("without", Booking._meta.pk)).filter(Q(starts_at=at("start_at")) | meets)
    return select(rows.order_by("starts_at", "pk").values_list("pk")[:1])


def times(site: Site, opening: Opening) -> dict[str, object]:
    wall = opening.start_at.astimezone(site.zone)
    return {
        "wall_on": wall.date(),
        "wall_time": wall.time(),
        "zone": site.timezone,
        "starts_at": opening.start_at,
        "ends_at": opening.end_at,
    }


def claim(booking: Booking, opening: Opening) -> None:
    """One row per claimed resource and segment."""
    claims = [
        ResourceClaim(
            booking=booking,
            resource=opening.chosen[need],
            need=need,
            segment=stretch.segment,
            start_at=opening.start_at + timedelta(minutes=stretch.offset),
            end_at=opening.start_at + timedelta(minutes=stretch.offset + stretch.minutes),
        )
        for need, stretches in opening.parts.items()
        for stretch in stretches
    ]
    write_new(*claims)


@contextmanager
def taken_means_taken() -> Iterator[None]:
    """Overlap, deadlock and lock time-out all mean the same to the desk: somebody else was faster."""
    try:
        yield
    except (IntegrityError, OperationalError) as error:
        if not is_conflict(error):
            raise
        raise SlotTaken from error


def is_conflict(error: Exception) -> bool:
    # PostgreSQL: exclusion_violation, deadlock_detected, lock_not_available (Appendix A of its manual).
    state = getattr(error.__cause__, "sqlstate", None)
    return state in {"23P01", "40P01", "55P03"} or CONSTRAINT in str(error) or "database is locked" in str(error)
