"""People who wait, in the furnished diary of house.py; and a diary in which only one time can become free."""

from datetime import datetime, timedelta
from typing import Any

from clinic.diary import actions
from clinic.diary.models import Booking, Closure, ClosureKind, Resource, VisitCode, WaitingOffer, WaitingWish
from clinic.diary.waitlist.listing import WantedVisit, WishDetails, add_wish
from clinic.diary.waitlist.offering import tick
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary.house import at, book, visit

RELATED = ("wish__patient", "wish__site", "booking")


def wish(cast: Cast, patient: Patient, *, instead: Booking | None = None, **details: Any) -> WaitingWish:
    given = {"since_on": NOW.date(), **details}
    wanted = instead or WantedVisit(visit(given.pop("code", VisitCode.CONSULTATION)))
    return add_wish(patient=patient, visit=wanted, details=WishDetails(**given), actor=actor_of(cast.desk), now=NOW)


def only_one_time(cast: Cast, start_at: datetime | None = None) -> Booking:
    """A visit in the only room, on the Wednesday at ten if nothing else is said; before and after all is closed."""
    held = book(cast, start_at or at(10), tell=False)
    close_around(cast, held)
    return held


def close_around(cast: Cast, held: Booking) -> None:
    Resource.objects.filter(name="Alder").update(active=False)
    for starts_at, ends_at in ((NOW - timedelta(days=1), held.starts_at), (held.ends_at, NOW + timedelta(days=120))):
        Closure.objects.create(site=cast.fernbrook, kind=ClosureKind.CLOSED, starts_at=starts_at, ends_at=ends_at)


def free_it(cast: Cast, held: Booking, *, now: datetime = NOW) -> None:
    actions.cancel(booking=held, by="patient", reason="", actor=actor_of(cast.desk), now=now)


def ring(now: datetime = NOW) -> list[WaitingOffer]:
    """The offers that wait for an answer after a tick."""
    tick(now=now)
    return list(WaitingOffer.objects.open(now=now).select_related(*RELATED).order_by("starts_at", "pk"))


def one_offer(cast: Cast, patient: Patient, **details: Any) -> WaitingOffer:
    """Wednesday at ten is free, and on offer to this patient."""
    wish(cast, patient, **details)
    free_it(cast, only_one_time(cast))
    (offer,) = ring()
    return offer


def another_offer(cast: Cast, patient: Patient) -> WaitingOffer:
    """To the next one, in the same diary."""
    wish(cast, patient)
    (offer,) = [one for one in ring() if one.wish.patient_id == patient.pk]
    return offer
