"""What the diary pages read: a number of queries that does not grow with the bookings."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q

from clinic.accounts.models import Site
from clinic.diary.day import Placed, Row, lay_out
from clinic.diary.engine.working import instant
from clinic.diary.models import HOLDING, Booking, Need, Resource, ResourceClaim, ResourceKind, WorkingPattern


@dataclass(frozen=True, slots=True)
class Day:
    """One day of one site. roomless: visits that hold no room, so that no visit of the day is ever unseen."""

    rooms: Sequence[Resource]
    bookings: Sequence[Booking]
    rows: Sequence[Row]
    roomless: Sequence[Booking]


def day_bounds(site: Site, day: date) -> tuple[datetime, datetime]:
    """The half-open range of instants of one wall-clock day of the site; 23 or 25 hours on clock-change days."""
    return instant(day, time(0), site.zone), instant(day + timedelta(days=1), time(0), site.zone)


def bookings_on(site: Site, day: date) -> list[Booking]:
    start_at, end_at = day_bounds(site, day)
    rows = Booking.objects.filter(site=site, status__in=HOLDING).between(start_at, end_at)
    return list(rows.select_related("patient", "visit_type", "site").order_by("starts_at", "pk"))


def read_day(site: Site, day: date, *, now: datetime) -> Day:
    bookings = bookings_on(site, day)
    placed = _placed(bookings)
    rooms = _rooms(site, {one.room_id for one in placed})
    opens_at, closes_at = _opening_hours(site, day)
    rows = lay_out(rooms=rooms, placed=placed, opens_at=opens_at, closes_at=closes_at, now=now, zone=site.zone)
    shown = {one.booking.pk for one in placed}
    return Day(rooms, bookings, rows, [booking for booking in bookings if booking.pk not in shown])


def _rooms(site: Site, in_use: set[int]) -> list[Resource]:
    """Every room that can be booked, and one that cannot any more as long as it holds a visit."""
    rooms = Resource.objects.filter(site=site, kind=ResourceKind.ROOM)
    return list(rooms.filter(Q(active=True) | Q(pk__in=in_use)))


def _placed(bookings: Sequence[Booking]) -> list[Placed]:
    """Where each booking stands: the whole stretch of its room claims, and who is with it."""
    held = {booking.pk: booking for booking in bookings}
    claims = ResourceClaim.objects.filter(booking__in=held, active=True).select_related("resource__person")
    stretches: dict[tuple[int, int], list[ResourceClaim]] = {}
    people: dict[int, dict[str, None]] = {}
    for claim in claims:
        if claim.need == Need.ROOM:
            stretches.setdefault((claim.booking_id, claim.resource_id), []).append(claim)
        elif claim.resource.person is not None:
            people.setdefault(claim.booking_id, {})[claim.resource.person.initials] = None
    return [
        Placed(
            room_id,
            held[booking_id],
            min(one.start_at for one in some),
            max(one.end_at for one in some),
            " · ".join(people.get(booking_id, {})),
        )
        for (booking_id, room_id), some in stretches.items()
    ]


def _opening_hours(site: Site, day: date) -> tuple[datetime, datetime]:
    """Earliest start and latest end of any room that day; nine to five where nobody works."""
    rows = WorkingPattern.objects.filter(resource__site=site, resource__kind=ResourceKind.ROOM, weekday=day.weekday())
    held = [one for some in rows.by_resource().values() for one in some if one.holds_on(day)]
    first = min((one.from_time for one in held), default=time(9))
    last = max((one.to_time for one in held), default=time(17))
    return instant(day, first, site.zone), instant(day, last, site.zone)
