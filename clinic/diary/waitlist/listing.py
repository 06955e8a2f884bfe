"""Putting somebody on the waiting list, changing what they wait for, taking them off."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time

from django.db import IntegrityError, transaction

from clinic.diary.locks import lock_patient
from clinic.diary.models import MOVABLE, Answer, Booking, Resource, VisitType, WaitingOffer, WaitingWish, WishEnd
from clinic.diary.refusals import NobodyWaits, NotPossibleNow, WaitsAlready
from clinic.diary.waitlist.answering import close_wish, lock_wish, settle
from clinic.diary.waitlist.noting import note_wish
from clinic.patients.models import Patient
from clinic.trail.actor import Actor


@dataclass(frozen=True, slots=True, kw_only=True)
class WishDetails:
    """What somebody waits for, and when it suits."""

    weekdays: frozenset[int] = frozenset()
    not_before: time | None = None
    over_by: time | None = None
    person: Resource | None = None
    notice_hours: int = 0
    since_on: date
    until_on: date | None = None

    def fields(self) -> dict[str, object]:
        return {
            "weekdays": as_digits(self.weekdays),
            "not_before": self.not_before,
            "over_by": self.over_by,
            "person": self.person,
            "notice_hours": self.notice_hours,
            "since_on": self.since_on,
            "until_on": self.until_on,
        }


@dataclass(frozen=True, slots=True)
class WantedVisit:
    visit_type: VisitType
    cycles: int = 0
    light_kind: str = ""


def as_digits(weekdays: Iterable[int]) -> str:
    return "".join(str(day) for day in sorted(weekdays))


def add_wish(
    *, patient: Patient, visit: WantedVisit | Booking, details: WishDetails, actor: Actor, now: datetime
) -> WaitingWish:
    """visit: a new one, or one that is booked and would move up. Raises WaitsAlready, NotPossibleNow."""
    later = visit if isinstance(visit, Booking) else None
    if later is not None and later.status not in MOVABLE:
        raise NotPossibleNow(status=later.get_status_display())
    try:
        with transaction.atomic():
            lock_patient(patient)
            if later is None:
                _check_waits_once(patient.pk, visit.visit_type.pk)
            wish = WaitingWish.objects.create(
                site=patient.site if later is None else later.site,
                patient=patient,
                visit_type=visit.visit_type,
                cycles=visit.cycles,
                light_kind=visit.light_kind,
                booking=later,
                added_at=now,
                added_by=actor.name,
                **details.fields(),
            )
            note_wish("diary.waitlist_added", wish, actor)
    except IntegrityError as error:
        raise WaitsAlready from error
    return wish


def change_wish(*, wish: WaitingWish, version: int, details: WishDetails, actor: Actor, now: datetime) -> WaitingWish:
    """Raises NobodyWaits once it has ended, or when somebody else has changed it since."""
    with transaction.atomic():
        held = lock_wish(wish.pk)
        if held.ended_at is not None or held.version != version:
            raise NobodyWaits
        for name, value in details.fields().items():
            setattr(held, name, value)
        held.version += 1
        held.save()
        note_wish("diary.waitlist_changed", held, actor)
    return held


def wait_since(wish: WaitingWish, day: date, *, actor: Actor) -> None:
    """Since when they really wait, where two records were joined, and where they come apart again."""
    with transaction.atomic():
        held = lock_wish(wish.pk)
        if day != held.since_on:
            held.since_on, held.version = day, held.version + 1
            held.save(update_fields=["since_on", "version"])
            note_wish("diary.waitlist_changed", held, actor)


def end_wish(wish: WaitingWish, *, because: WishEnd, actor: Actor, now: datetime) -> bool:
    """Off the list; a time that is on offer to them is free again. False when it had ended."""
    with transaction.atomic():
        held = lock_wish(wish.pk)
        if held.ended_at is not None:
            return False
        offers = WaitingOffer.objects.unsettled().filter(wish=held)
        for offer in offers.select_related("booking__site", "booking__patient", "booking__visit_type"):
            offer.wish = held
            settle(offer, Answer.WITHDRAWN, actor=actor, now=now)
        close_wish(held, because=because, actor=actor, now=now)
    return True


def put_back(*, wish: WaitingWish, actor: Actor) -> WaitingWish:
    """Whoever was taken off the list waits again, since the same day. Raises NobodyWaits, WaitsAlready."""
    try:
        with transaction.atomic():
            held = lock_wish(wish.pk)
            if held.ended_because not in {WishEnd.REMOVED, WishEnd.LEFT}:
                raise NobodyWaits
            lock_patient(held.patient)
            if held.booking is None:
                _check_waits_once(held.patient_id, held.visit_type_id)
            held.ended_at, held.ended_because = None, ""
            held.save(update_fields=["ended_at", "ended_because"])
            note_wish("diary.waitlist_added", held, actor)
    except IntegrityError as error:
        raise WaitsAlready from error
    return held


def _check_waits_once(patient_id: int, visit_type_id: int) -> None:
    """Under the patient's lock: who stood on the list twice would be offered a second time after taking the first."""
    same = WaitingWish.objects.waiting().filter(patient=patient_id, visit_type=visit_type_id, booking=None)
    if same.exists():
        raise WaitsAlready
