"""What the diary pages read: a number of queries that does not grow with the bookings."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q

from clinic.accounts.dates import day_words
from clinic.accounts.models import Site
from clinic.diary.day import Column, Placed, Row, lay_out_day, lay_out_week
from clinic.diary.engine.spans import to_instant
from clinic.diary.engine.working import instant
from clinic.diary.holding import Stretch, holds
from clinic.diary.models import HOLDING, Booking, BookingQuerySet, Resource, ResourceClaim, ResourceKind
from clinic.diary.shut import Hours, read_hours

NINE, FIVE = time(9), time(17)
DAYS_OF_A_WEEK = 7
_NOT_IN_GRID = (
    "phone",
    "email",
    "address",
    "allergies",
    "search_name",
    "search_turned",
    "search_digits",
    "search_text",
)


@dataclass(frozen=True, slots=True)
class Shown:
    """What one page shows. unplaced: visits that stand in no column, so that no visit of the day is ever unseen."""

    columns: Sequence[Column]
    bookings: Sequence[Booking]
    rows: Sequence[Row]
    unplaced: Sequence[Booking] = ()


def day_bounds(site: Site, day: date, *, days: int = 1) -> tuple[datetime, datetime]:
    """The half-open range of instants of wall-clock days of the site; one has 23 or 25 hours when the clock changes."""
    return instant(day, time(0), site.zone), instant(day + timedelta(days=days), time(0), site.zone)


def week_of(day: date) -> date:
    """Its Monday (ISO 8601)."""
    return day - timedelta(days=day.weekday())


def bookings_on(site: Site, day: date, *, now: datetime | None = None) -> list[Booking]:
    """With now, holds that have run out are gone already."""
    return list(of_day(site, day, now=now))


def of_day(site: Site, day: date, *, now: datetime | None) -> BookingQuerySet:
    rows = _bookings(site, *day_bounds(site, day))
    return rows.without_ended_holds(now=now) if now is not None else rows


def of_week(site: Site, day: date, resource: Resource, *, now: datetime) -> BookingQuerySet:
    held = Q(claims__resource=resource, claims__active=True)
    rows = _bookings(site, *day_bounds(site, week_of(day), days=DAYS_OF_A_WEEK))
    return rows.without_ended_holds(now=now).filter(held).distinct()


def read_day(site: Site, day: date, *, kind: ResourceKind, chosen: int | None, now: datetime) -> Shown:
    """Every room, or every person, side by side."""
    bookings = list(_of_grid(of_day(site, day, now=now)))
    known = _resources(site)
    placed = _placed(bookings, known, kind)
    # Every one that can be booked, and one that cannot any more as long as it holds a visit.
    resources = [one for one in known.values() if one.kind == kind and (one.active or one.pk in placed)]
    ids = [one.pk for one in resources]
    # A narrow screen opens on one who has something to do.
    narrow = chosen if chosen in ids else next((pk for pk in ids if placed.get(pk)), next(iter(ids), None))
    hours = read_hours(site, ids, first_on=day, days=1)
    bounds = day_bounds(site, day)
    columns = [
        Column(
            resource_id=one.pk,
            name=one.name,
            placed=placed.get(one.pk, ()),
            shut=hours[one.pk].shut(*bounds),
            is_chosen=one.pk == narrow,
        )
        for one in resources
    ]
    usual = instant(day, NINE, site.zone), instant(day, FIVE, site.zone)
    opens_at, closes_at = _open(hours.values(), *bounds) or usual
    rows = lay_out_day(columns=columns, opens_at=opens_at, closes_at=closes_at, now=now, zone=site.zone)
    shown = {one.booking.pk for some in placed.values() for one in some}
    return Shown(columns, bookings, rows, [booking for booking in bookings if booking.pk not in shown])


def read_week(site: Site, day: date, *, resource: Resource, now: datetime) -> Shown:
    """Seven days of one room or one person; a narrow screen shows the day itself."""
    monday = week_of(day)
    bookings = list(_of_grid(of_week(site, day, resource, now=now)))
    placed = _placed(bookings, _resources(site), ResourceKind(resource.kind)).get(resource.pk, [])
    hours = read_hours(site, [resource.pk], first_on=monday, days=DAYS_OF_A_WEEK)[resource.pk]
    days = [monday + timedelta(days=number) for number in range(DAYS_OF_A_WEEK)]
    columns = [_day_column(site, one, resource, placed, hours, is_chosen=one == day) for one in days]
    found = [_open([hours], *day_bounds(site, one)) for one in days]
    clocks = [tuple(at.astimezone(site.zone).time() for at in each) for each in found if each]
    rows = lay_out_week(
        columns=columns,
        opens=min((opens for opens, _closes in clocks), default=NINE),
        closes=max((closes for _opens, closes in clocks), default=FIVE),
        now=now,
        zone=site.zone,
    )
    return Shown(columns, bookings, rows)


def _day_column(
    site: Site, day: date, resource: Resource, placed: Sequence[Placed], hours: Hours, *, is_chosen: bool
) -> Column:
    start_at, end_at = day_bounds(site, day)
    return Column(
        resource_id=resource.pk,
        name=day_words(day),
        day=day,
        placed=[one for one in placed if one.starts_at < end_at and one.ends_at > start_at],
        shut=hours.shut(start_at, end_at),
        is_chosen=is_chosen,
    )


def _bookings(site: Site, start_at: datetime, end_at: datetime) -> BookingQuerySet:
    """Asked through the site, so that all of them share its one row."""
    rows = site.bookings.filter(status__in=HOLDING).between(start_at, end_at)
    return rows.select_related("patient", "visit_type").order_by("starts_at", "pk")


def _of_grid(bookings: BookingQuerySet) -> BookingQuerySet:
    """Without what a grid never shows and what is slow to read: a telephone number is taken apart each time."""
    return bookings.defer(*(f"patient__{name}" for name in _NOT_IN_GRID))


def _resources(site: Site) -> Mapping[int, Resource]:
    """All of the site in the order of the page: each column, and who or what is with a visit."""
    return {one.pk: one for one in Resource.objects.filter(site=site).select_related("person")}


def _placed(
    bookings: Sequence[Booking], resources: Mapping[int, Resource], kind: ResourceKind
) -> Mapping[int, list[Placed]]:
    """By resource: where each booking holds it, and with whom (in a room) or where (with a person)."""
    by_booking: dict[int, list[ResourceClaim]] = {}
    for claim in ResourceClaim.objects.filter(booking__in=[one.pk for one in bookings], active=True):
        claim.resource = resources[claim.resource_id]
        by_booking.setdefault(claim.booking_id, []).append(claim)
    found: dict[int, list[Placed]] = {}
    for booking in bookings:
        some = by_booking.get(booking.pk, [])
        others = " · ".join(dict.fromkeys(_short(one.resource) for one in some if _is_other(one.resource, kind)))
        for pk, stretch in _stretches(one for one in some if one.resource.kind == kind):
            found.setdefault(pk, []).append(Placed(booking, stretch.start_at, stretch.end_at, others))
    return found


def _stretches(claims: Iterable[ResourceClaim]) -> Iterator[tuple[int, Stretch]]:
    """A person who is away in between may see somebody else then: not one long stretch."""
    by_resource: dict[int, list[ResourceClaim]] = {}
    for claim in claims:
        by_resource.setdefault(claim.resource_id, []).append(claim)
    for pk, some in by_resource.items():
        yield from ((pk, stretch) for hold in holds(some) for stretch in hold.stretches)


def _is_other(resource: Resource, kind: ResourceKind) -> bool:
    return resource.kind == (ResourceKind.ROOM if kind == ResourceKind.PERSON else ResourceKind.PERSON)


def _short(resource: Resource) -> str:
    return resource.person.initials if resource.person else resource.name


def _open(hours: Iterable[Hours], start_at: datetime, end_at: datetime) -> tuple[datetime, datetime] | None:
    """Earliest start and latest end of any of them; None where nobody works."""
    spans = [span for one in hours for span in one.within(start_at, end_at)]
    if not spans:
        return None
    return to_instant(min(start for start, _end in spans)), to_instant(max(end for _start, end in spans))
