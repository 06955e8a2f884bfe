"""A diary as a table: quarter hours down; rooms, people or the days of a week across. Pure arithmetic over rows."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django_stubs_ext import StrOrPromise

from clinic.diary.models import Booking

QUARTER = timedelta(minutes=15)
QUARTERS_OF_A_DAY = 96


@dataclass(frozen=True, slots=True)
class Placed:
    """One booking in one column, with the stretch that it takes there; others: who or what is with it."""

    booking: Booking
    starts_at: datetime
    ends_at: datetime
    others: str


@dataclass(frozen=True, slots=True)
class Shut:
    """A stretch in which nothing can be booked in one column, and why."""

    starts_at: datetime
    ends_at: datetime
    words: StrOrPromise


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A room or a person; in a week, one day of it. is_chosen: the one that a narrow screen shows."""

    resource_id: int
    name: str = ""
    day: date | None = None
    placed: Sequence[Placed] = ()
    shut: Sequence[Shut] = ()
    is_chosen: bool = False

    @property
    def put(self) -> str:
        """What is sent when a visit is moved here."""
        return f"to={self.resource_id}" + (f"&day={self.day.isoformat()}" if self.day else "")


@dataclass(slots=True)
class Cell:
    """Bookings over some quarter hours; or shut, with the words for it; or a free quarter. Covered cells are not drawn.

    Two bookings share a cell when one ends and the next begins inside the same quarter.
    """

    column: Column
    placed: list[Placed]
    rows: int
    shut: StrOrPromise = ""


@dataclass(slots=True)
class Row:
    """A quarter hour. starts_at is on the wall clock of the site; put: what is sent when a visit is moved here."""

    starts_at: datetime | time
    put: str
    is_hour: bool
    holds_now: bool
    cells: list[Cell] = field(default_factory=list)


@dataclass(slots=True)
class _Group:
    """Bookings whose quarters touch, from the first row to the one after the last."""

    first: int
    end: int
    placed: list[Placed]


# The rows that a stretch of a column touches: the first one, and the one after the last.
Span = Callable[[Column, Placed | Shut], tuple[int, int]]


def lay_out_day(
    *, columns: Sequence[Column], opens_at: datetime, closes_at: datetime, now: datetime, zone: ZoneInfo
) -> list[Row]:
    """Rows from opening to closing, stretched to hold early and late bookings.

    Counted in instants: on the days of a clock change an hour is missing, or there twice, as on the wall.
    """
    placed = [one for column in columns for one in column.placed]
    first = _floor(min([opens_at, *(one.starts_at for one in placed)]))
    last = _ceiling(max([closes_at, *(one.ends_at for one in placed)]))
    rows = [_row_at(first + number * QUARTER, now, zone) for number in range((last - first) // QUARTER)]

    def span(_column: Column, one: Placed | Shut) -> tuple[int, int]:
        return (_floor(one.starts_at) - first) // QUARTER, (_ceiling(one.ends_at) - first) // QUARTER

    return _filled(rows, columns, span)


def lay_out_week(*, columns: Sequence[Column], opens: time, closes: time, now: datetime, zone: ZoneInfo) -> list[Row]:
    """The days of a week side by side by their wall clocks, which a clock change may put apart in between.

    Whatever happens in an hour that is there twice stands in the one row of that hour.
    """

    def span(column: Column, one: Placed | Shut) -> tuple[int, int]:
        start, end = (_wall_minutes(at, column.day, zone) for at in (one.starts_at, one.ends_at))
        first = min(max(start // 15, 0), QUARTERS_OF_A_DAY - 1)
        return first, min(max(-(-end // 15), first + 1), QUARTERS_OF_A_DAY)

    spans = [span(column, one) for column in columns for one in column.placed]
    first = min([_quarter(opens), *(start for start, _end in spans)])
    last = max([_quarter(closes), *(end for _start, end in spans)])
    rows = [_row_of_week(number, now.astimezone(zone)) for number in range(first, last)]

    def below_first(column: Column, one: Placed | Shut) -> tuple[int, int]:
        start, end = span(column, one)
        return start - first, end - first

    return _filled(rows, columns, below_first)


def _filled(rows: list[Row], columns: Sequence[Column], span: Span) -> list[Row]:
    for column in columns:
        _fill_column(rows, column, span)
    return rows


def _fill_column(rows: Sequence[Row], column: Column, span: Span) -> None:
    groups = _groups((*span(column, one), one) for one in column.placed)
    shut: list[StrOrPromise] = [""] * len(rows)
    for one in column.shut:
        first, end = span(column, one)
        for number in range(max(first, 0), min(end, len(rows))):
            shut[number] = one.words
    number = 0
    while number < len(rows):
        group = groups.get(number)
        end = group.end if group else _end_of_shut(shut, number, groups)
        cell = Cell(column, group.placed if group else [], end - number, "" if group else shut[number])
        rows[number].cells.append(cell)
        number = end


def _end_of_shut(shut: Sequence[StrOrPromise], first: int, groups: dict[int, _Group]) -> int:
    """Shut quarters with the same words are one cell; a free one stands alone."""
    end = first + 1
    while shut[first] and end < len(shut) and shut[end] == shut[first] and end not in groups:
        end += 1
    return end


def _groups(found: Iterable[tuple[int, int, Placed]]) -> dict[int, _Group]:
    """By the row in which each group begins."""
    groups: list[_Group] = []
    for first, end, one in sorted(found, key=lambda each: (each[2].starts_at, each[2].booking.pk)):
        if groups and first < groups[-1].end:
            groups[-1].placed.append(one)
            groups[-1].end = max(groups[-1].end, end)
        else:
            groups.append(_Group(first, end, [one]))
    return {group.first: group for group in groups}


def _row_at(at: datetime, now: datetime, zone: ZoneInfo) -> Row:
    wall = at.astimezone(zone)
    return Row(wall, f"start_at={at:%Y-%m-%dT%H:%M:%SZ}", wall.minute == 0, at <= now < at + QUARTER)


def _row_of_week(number: int, wall_now: datetime) -> Row:
    wall = time(number // 4, number % 4 * 15)
    is_now = (wall_now.hour * 60 + wall_now.minute) // 15 == number
    return Row(wall, f"time={wall:%H:%M}", wall.minute == 0, is_now)


def _quarter(at: time) -> int:
    return (at.hour * 60 + at.minute) // 15


def _wall_minutes(at: datetime, day: date | None, zone: ZoneInfo) -> int:
    wall = at.astimezone(zone)
    days = (wall.date() - (day or wall.date())).days
    return (days * 24 + wall.hour) * 60 + wall.minute


def _floor(at: datetime) -> datetime:
    """The quarter hour, in UTC: every zone of today keeps its quarters together with those of UTC."""
    at = at.astimezone(UTC)
    return at.replace(minute=at.minute - at.minute % 15, second=0, microsecond=0)


def _ceiling(at: datetime) -> datetime:
    floor = _floor(at)
    return floor if floor == at else floor + QUARTER
