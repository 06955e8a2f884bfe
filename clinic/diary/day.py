"""One day of one site laid out as a table: quarter hours down, rooms across. Pure arithmetic over rows."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from clinic.diary.models import Booking, Resource

QUARTER = timedelta(minutes=15)


@dataclass(slots=True)
class Cell:
    """A booking over some quarter hours, or free time (booking is None). Covered cells are not drawn."""

    booking: Booking | None
    rows: int
    people: str = ""


@dataclass(slots=True)
class Row:
    starts_at: datetime
    is_hour: bool
    holds_now: bool
    cells: list[Cell] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Placed:
    """One booking in one room, with the stretch that it holds the room for."""

    room_id: int
    booking: Booking
    starts_at: datetime
    ends_at: datetime
    people: str


def lay_out(
    *, rooms: Sequence[Resource], placed: Sequence[Placed], opens_at: datetime, closes_at: datetime, now: datetime
) -> list[Row]:
    """Rows from opening to closing, stretched to hold early and late bookings; cells go down over their quarters."""
    first = _floor(min([opens_at, *(one.starts_at for one in placed)]))
    last = max([closes_at, *(one.ends_at for one in placed)])
    rows = [
        Row(at, at.minute == 0, at <= now < at + QUARTER)
        for at in (first + n * QUARTER for n in range(-((first - last) // QUARTER)))
    ]
    for room in rooms:
        _fill_column(rows, [one for one in placed if one.room_id == room.pk])
    return rows


def _fill_column(rows: Sequence[Row], placed: Sequence[Placed]) -> None:
    by_start = {_floor(one.starts_at): one for one in placed}
    covered_until: datetime | None = None
    for row in rows:
        if covered_until is not None and row.starts_at < covered_until:
            continue
        one = by_start.get(row.starts_at)
        if one is None:
            row.cells.append(Cell(None, 1))
            continue
        quarters = max(1, -((row.starts_at - one.ends_at) // QUARTER))
        covered_until = row.starts_at + quarters * QUARTER
        row.cells.append(Cell(one.booking, quarters, one.people))


def _floor(at: datetime) -> datetime:
    return at.replace(minute=at.minute - at.minute % 15, second=0, microsecond=0)
