"""Which rooms and people run late today, and what that does to the visits that come next. One query."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from clinic.diary.engine.lateness import Held, delays
from clinic.diary.engine.spans import to_minute
from clinic.diary.models import Booking, Resource, ResourceClaim, ResourceKind, Status
from clinic.diary.shapes import SEATED

# Less is how a day is (common practice, no source); what is said is rounded to that.
LATE_FROM, ROUNDED_TO = 10, 5
_COMING = (Status.BOOKED, Status.ARRIVED)


@dataclass(frozen=True, slots=True)
class Later:
    """A visit that begins later than planned, and about when."""

    booking: Booking
    about: datetime


@dataclass(frozen=True, slots=True)
class RunsLate:
    """A visit of now that is late by so many minutes, with the rooms and people that it keeps.

    waits: they are free, and whoever should sit there is not here yet. later: what it does to their next visits,
    of which there may be none (has_next).
    """

    visit: Booking
    names: Sequence[str]
    minutes: int
    waits: bool
    later: Sequence[Later]
    has_next: bool


def runs_late(bookings: Sequence[Booking], *, now: datetime) -> list[RunsLate]:
    """Rooms and people in the order of the page. bookings: those of today."""
    coming = {one.pk: one for one in bookings if one.status in {*_COMING, Status.CHECKED_IN}}
    if not coming:
        return []
    rows = ResourceClaim.objects.filter(booking__in=coming, active=True).exclude(resource__kind=ResourceKind.LIGHT)
    claims = list(rows.select_related("resource__person"))
    late = delays([_held(claim) for claim in claims], least=_least(coming.values(), claims, now))
    return list(_runs_late(_by_resource(claims), coming, late))


def _held(claim: ResourceClaim) -> Held:
    return Held(claim.booking_id, claim.resource_id, to_minute(claim.start_at), to_minute(claim.end_at))


def _least(bookings: Iterable[Booking], claims: Sequence[ResourceClaim], now: datetime) -> dict[int, int]:
    """How late each visit is by itself: it has not begun although it should have, or began late, or is not over."""
    seats: dict[int, list[tuple[datetime, datetime]]] = {}
    for claim in claims:
        if claim.need in SEATED:
            seats.setdefault(claim.booking_id, []).append((claim.start_at, claim.end_at))
    return {one.pk: _minutes_late(one, seats.get(one.pk) or [(one.starts_at, one.ends_at)], now) for one in bookings}


def _minutes_late(booking: Booking, seats: Sequence[tuple[datetime, datetime]], now: datetime) -> int:
    seat_at, up_at = min(start for start, _end in seats), max(end for _start, end in seats)
    seated_at = now if booking.status in _COMING else booking.status_at or seat_at
    return max((seated_at - seat_at) // timedelta(minutes=1), (now - up_at) // timedelta(minutes=1), 0)


def _by_resource(claims: Iterable[ResourceClaim]) -> Mapping[Resource, list[ResourceClaim]]:
    found: dict[Resource, list[ResourceClaim]] = {}
    ordered = sorted(
        claims, key=lambda one: (one.resource.kind != ResourceKind.ROOM, one.resource.position, one.start_at)
    )
    for claim in ordered:
        found.setdefault(claim.resource, []).append(claim)
    return found


def _runs_late(
    claims: Mapping[Resource, Sequence[ResourceClaim]], bookings: Mapping[int, Booking], late: Mapping[int, int]
) -> Iterator[RunsLate]:
    """One line for all that one visit keeps."""
    names: dict[int, list[str]] = {}
    following: dict[int, dict[int, None]] = {}
    for resource, some in claims.items():
        current, *others = _now_first(some, bookings)
        if _rounded(late[current]) >= LATE_FROM:
            names.setdefault(current, []).append(resource.name)
            following.setdefault(current, {}).update(dict.fromkeys(others))
    for pk, some_names in names.items():
        booking, others = bookings[pk], sorted(following[pk], key=lambda one: bookings[one].starts_at)
        later = [_later(bookings[one], late[one]) for one in others if late[one] >= LATE_FROM]
        waits = booking.status == Status.BOOKED
        yield RunsLate(booking, some_names, _rounded(late[pk]), waits, later, has_next=bool(others))


def _now_first(claims: Sequence[ResourceClaim], bookings: Mapping[int, Booking]) -> list[int]:
    """Visits of one room or person: the one in the chair, else the next one, then the others."""
    visits = list(dict.fromkeys(claim.booking_id for claim in claims))
    return sorted(visits, key=lambda pk: bookings[pk].status != Status.CHECKED_IN)


def _later(booking: Booking, minutes: int) -> Later:
    return Later(booking, booking.starts_at + timedelta(minutes=_rounded(minutes)))


def _rounded(minutes: int) -> int:
    return (minutes + ROUNDED_TO // 2) // ROUNDED_TO * ROUNDED_TO
