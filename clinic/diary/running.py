"""Which rooms and people run late today, and what that does to the visits that come next. One query."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from clinic.diary.engine.lateness import Held, delays
from clinic.diary.engine.spans import to_minute
from clinic.diary.models import Booking, Resource, ResourceClaim, ResourceKind, Status
from clinic.diary.openings import SEATED

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
    """minutes: by how much, about. waits_for: the room is free, and somebody who should sit in it is not here yet."""

    resource: Resource
    minutes: int
    waits_for: Booking | None
    later: Sequence[Later]


def runs_late(bookings: Sequence[Booking], *, now: datetime) -> list[RunsLate]:
    """Rooms and people in the order of the page. bookings: those of today."""
    coming = {one.pk: one for one in bookings if one.status in {*_COMING, Status.CHECKED_IN}}
    if not coming:
        return []
    rows = ResourceClaim.objects.filter(booking__in=coming, active=True).exclude(resource__kind=ResourceKind.LIGHT)
    claims = list(rows.select_related("resource__person"))
    late = delays([_held(claim) for claim in claims], least=_least(coming.values(), claims, now))
    found = [_of_resource(resource, some, coming, late) for resource, some in _by_resource(claims).items()]
    return [one for one in found if one is not None]


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


def _of_resource(
    resource: Resource, claims: Sequence[ResourceClaim], bookings: Mapping[int, Booking], late: Mapping[int, int]
) -> RunsLate | None:
    """Late by its visit of now: the one in the chair, else the next one."""
    visits = list(dict.fromkeys(claim.booking_id for claim in claims))
    current = next((pk for pk in visits if bookings[pk].status == Status.CHECKED_IN), visits[0])
    minutes = _rounded(late[current])
    if minutes < LATE_FROM:
        return None
    booking = bookings[current]
    later = [_later(bookings[pk], late[pk]) for pk in visits if pk != current and late[pk] >= LATE_FROM]
    return RunsLate(resource, minutes, booking if booking.status == Status.BOOKED else None, later)


def _later(booking: Booking, minutes: int) -> Later:
    return Later(booking, booking.starts_at + timedelta(minutes=_rounded(minutes)))


def _rounded(minutes: int) -> int:
    return (minutes + ROUNDED_TO // 2) // ROUNDED_TO * ROUNDED_TO
