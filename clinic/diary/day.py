"""One day of one site laid out as a table: quarter hours down, rooms across. Pure arithmetic over rows."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from clinic.diary.models import Booking, Resource

QUARTER = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Placed:
    """One booking in one room, with the stretch that it holds the room for."""

    room_id: int
    booking: Booking
    starts_at: datetime
    ends_at: datetime
    people: str


@dataclass(slots=True)
class Cell:
    """Bookings over some quarter hours, or free time (none). Covered cells are not drawn.

    Two bookings share a cell when one ends and the next begins inside the same quarter.
    """

    placed: list[Placed]
    rows: int


@dataclass(slots=True)
class Row:
    """A quarter hour. starts_at is on the wall clock of the site."""

    starts_at: datetime
    is_hour: bool
    holds_now: bool
    cells: list[Cell] = field(default_factory=list)


@dataclass(slots=True)
class _Group:
    """Bookings whose quarters touch, from the first quarter's start to the last one's end."""

    start: datetime
    end: datetime
    placed: list[Placed]


def lay_out(
    *,
    rooms: Sequence[Resource],
    placed: Sequence[Placed],
    opens_at: datetime,
    closes_at: datetime,
    now: datetime,
    zone: ZoneInfo,
) -> list[Row]:
    """Rows from opening to closing, stretched to hold early and late bookings; cells go down over their quarters."""
    first = _floor(min([opens_at, *(one.starts_at for one in placed)]))
    last = max([closes_at, *(one.ends_at for one in placed)])
    rows = [_row(at, now, zone) for at in _quarters(first, last)]
    for room in rooms:
        _fill_column(rows, _groups(one for one in placed if one.room_id == room.pk))
    return rows


def _quarters(first: datetime, last: datetime) -> Iterator[datetime]:
    """In UTC: on the days of a clock change an hour is missing, or there twice, as on the wall."""
    while first < last:
        yield first
        first += QUARTER


def _row(at: datetime, now: datetime, zone: ZoneInfo) -> Row:
    wall = at.astimezone(zone)
    return Row(wall, wall.minute == 0, at <= now < at + QUARTER)


def _groups(placed: Iterable[Placed]) -> dict[datetime, _Group]:
    """By the quarter in which each group begins."""
    groups: list[_Group] = []
    for one in sorted(placed, key=lambda one: (one.starts_at, one.booking.pk)):
        start, end = _floor(one.starts_at), _ceiling(one.ends_at)
        if groups and start < groups[-1].end:
            groups[-1].placed.append(one)
            groups[-1].end = max(groups[-1].end, end)
        else:
            groups.append(_Group(start, end, [one]))
    return {group.start: group for group in groups}


def _fill_column(rows: Sequence[Row], groups: dict[datetime, _Group]) -> None:
    covered_until: datetime | None = None
    for row in rows:
        at = row.starts_at.astimezone(UTC)
        if covered_until is not None and at < covered_until:
            continue
        group = groups.get(at)
        if group is None:
            row.cells.append(Cell([], 1))
            continue
        covered_until = group.end
        row.cells.append(Cell(group.placed, (group.end - group.start) // QUARTER))


def _floor(at: datetime) -> datetime:
    """The quarter hour, in UTC: every zone of today keeps its quarters together with those of UTC."""
    at = at.astimezone(UTC)
    return at.replace(minute=at.minute - at.minute % 15, second=0, microsecond=0)


def _ceiling(at: datetime) -> datetime:
    floor = _floor(at)
    return floor if floor == at else floor + QUARTER
