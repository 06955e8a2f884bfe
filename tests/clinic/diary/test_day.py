"""A day as a table of quarter hours: no visit is ever unseen, whatever its times."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary.day import Cell, Column, Placed, Row, Shut, lay_out_day, lay_out_week
from clinic.diary.engine.working import instant
from clinic.diary.models import Booking

LONDON = ZoneInfo("Europe/London")
ROOMS = [1, 2]
DAY = date(2026, 3, 3)


def at(hour: int, minute: int = 0) -> datetime:
    return datetime.combine(DAY, time(hour, minute), tzinfo=UTC)


def placed(number: int, start: datetime, end: datetime, room: int = 1) -> tuple[int, Placed]:
    return room, Placed(Booking(pk=number), start, end, "")


def rows(
    *some: tuple[int, Placed],
    opens: datetime = at(9),  # noqa: B008
    closes: datetime = at(10),  # noqa: B008
    now: datetime = at(0),  # noqa: B008
    shut: tuple[Shut, ...] = (),
) -> list[Row]:
    """shut: in the first room."""
    columns = [
        Column(resource_id=room, placed=[one for where, one in some if where == room], shut=shut if room == 1 else ())
        for room in ROOMS
    ]
    return lay_out_day(columns=columns, opens_at=opens, closes_at=closes, now=now, zone=LONDON)


def column(found: list[Row], room: int = 0) -> list[tuple[str, list[int], int]]:
    """Time, bookings, quarters of each drawn cell of one room, as a browser puts them together."""
    result, covered = [], [0] * len(ROOMS)
    for row in found:
        cells = iter(row.cells)
        for number in range(len(ROOMS)):
            if covered[number]:
                covered[number] -= 1
                continue
            cell: Cell = next(cells)
            covered[number] = cell.rows - 1
            if number == room:
                result.append((f"{row.starts_at:%H:%M}", [one.booking.pk for one in cell.placed], cell.rows))
        assert next(cells, None) is None
    assert covered == [0] * len(ROOMS), "a cell reaches beyond the last row"
    return result


def test_an_empty_day() -> None:
    found = rows()
    assert [f"{row.starts_at:%H:%M}" for row in found] == ["09:00", "09:15", "09:30", "09:45"]
    assert [row.is_hour for row in found] == [True, False, False, False]
    assert column(found) == [("09:00", [], 1), ("09:15", [], 1), ("09:30", [], 1), ("09:45", [], 1)]


def test_a_visit_covers_its_quarters() -> None:
    found = rows(placed(7, at(9, 15), at(9, 50)))
    assert column(found) == [("09:00", [], 1), ("09:15", [7], 3)]
    assert column(found, 1) == [("09:00", [], 1), ("09:15", [], 1), ("09:30", [], 1), ("09:45", [], 1)]


def test_two_that_begin_inside_one_quarter_both_show() -> None:
    found = rows(placed(1, at(9), at(9, 5)), placed(2, at(9, 5), at(9, 10)), placed(3, at(9, 10), at(9, 20)))
    assert column(found) == [("09:00", [1, 2, 3], 2), ("09:30", [], 1), ("09:45", [], 1)]


def test_one_that_begins_in_the_quarter_in_which_the_other_ends() -> None:
    found = rows(placed(1, at(9), at(9, 35)), placed(2, at(9, 35), at(10)))
    assert column(found) == [("09:00", [1, 2], 4)]


def test_back_to_back_are_two_cells() -> None:
    found = rows(placed(1, at(9), at(9, 30)), placed(2, at(9, 30), at(10)))
    assert column(found) == [("09:00", [1], 2), ("09:30", [2], 2)]


def test_early_and_late_visits_stretch_the_day() -> None:
    found = rows(placed(1, at(7, 50), at(8)), placed(2, at(10, 10), at(10, 20)))
    assert [f"{row.starts_at:%H:%M}" for row in (found[0], found[-1])] == ["07:45", "10:15"]
    assert column(found)[0] == ("07:45", [1], 1)
    assert column(found)[-1] == ("10:00", [2], 2)


@pytest.mark.parametrize(("now", "quarter"), [(at(9, 14), "09:00"), (at(9, 15), "09:15"), (at(8, 59), None)])
def test_the_line_of_now(now: datetime, quarter: str | None) -> None:
    held = [f"{row.starts_at:%H:%M}" for row in rows(now=now) if row.holds_now]
    assert held == ([quarter] if quarter else [])


@pytest.mark.parametrize(
    ("day", "zone", "shown"),
    [
        # Open from midnight to four. In spring an hour is missing on the wall, in autumn one is there twice.
        (date(2027, 3, 28), "Europe/London", ["00", "02", "03"]),
        (date(2026, 10, 25), "Europe/London", ["00", "01", "01", "02", "03"]),
        (date(2027, 3, 28), "Europe/Warsaw", ["00", "01", "03"]),
        (date(2026, 10, 25), "Europe/Warsaw", ["00", "01", "02", "02", "03"]),
    ],
)
def test_the_night_of_a_clock_change(day: date, zone: str, shown: list[str]) -> None:
    wall = ZoneInfo(zone)
    found = lay_out_day(
        columns=[Column(resource_id=1)],
        opens_at=instant(day, time(0), wall),
        closes_at=instant(day, time(4), wall),
        now=at(0),
        zone=wall,
    )
    assert [f"{row.starts_at:%H}" for row in found if row.is_hour] == shown


times = st.tuples(st.integers(0, 200), st.integers(1, 60), st.sampled_from([1, 2]))


@given(st.lists(times, max_size=10))
def test_every_visit_is_shown_once_and_where_it_belongs(some: list[tuple[int, int, int]]) -> None:
    """Overlapping ones too: the database refuses them, but a page must never hide what it is given."""
    given_ = [
        placed(number, at(8) + timedelta(minutes=start), at(8) + timedelta(minutes=start + length), room)
        for number, (start, length, room) in enumerate(some, 1)
    ]
    found = rows(*given_)
    for number, room in enumerate(ROOMS):
        cells = column(found, number)
        wanted = sorted(one.booking.pk for where, one in given_ if where == room)
        assert sorted(pk for _, pks, _ in cells for pk in pks) == wanted
        for shown, pks, quarters in cells:
            hour, minute = map(int, shown.split(":"))
            for _where, one in given_:
                if one.booking.pk in pks:
                    assert at(hour, minute) <= one.starts_at
                    assert one.ends_at <= at(hour, minute) + timedelta(minutes=15 * quarters)


def test_shut_quarters_are_one_cell_until_a_visit_or_other_words() -> None:
    shut = (Shut(at(9), at(10), "outside"), Shut(at(9, 40), at(9, 50), "training"))
    found = rows(placed(1, at(9, 15), at(9, 20)), closes=at(10, 30), shut=shut)
    cells = [(row, cell) for row in found for cell in row.cells if cell.column.resource_id == 1]
    drawn = [(f"{row.starts_at:%H:%M}", cell.shut, cell.rows) for row, cell in cells]
    assert drawn[:3] == [("09:00", "outside", 1), ("09:15", "", 1), ("09:30", "training", 2)]
    assert drawn[3:] == [("10:00", "", 1), ("10:15", "", 1)]
    assert column(found)[2] == ("09:30", [], 2)


WEEK = [date(2026, 3, 23) + timedelta(days=number) for number in range(7)]


def week(*some: tuple[int, Placed], now: datetime = at(0)) -> list[Row]:  # noqa: B008
    columns = [
        Column(resource_id=1, day=day, placed=[one for where, one in some if where == number], shut=())
        for number, day in enumerate(WEEK)
    ]
    return lay_out_week(columns=columns, opens=time(9), closes=time(10), now=now, zone=LONDON)


def in_week(found: list[Row], pk: int) -> tuple[str, int]:
    (where,) = [
        (f"{row.starts_at:%H:%M}", cell.rows)
        for row in found
        for cell in row.cells
        if pk in [one.booking.pk for one in cell.placed]
    ]
    return where


def test_a_week_goes_by_the_wall_clock_on_both_sides_of_a_change() -> None:
    """The clocks of London go forward in the night to Sunday 29 March 2026."""
    saturday = datetime(2026, 3, 28, 9, 0, tzinfo=UTC)
    found = week(
        placed(1, saturday, saturday + timedelta(minutes=30), 5),
        placed(2, saturday + timedelta(hours=23), saturday + timedelta(hours=23, minutes=30), 6),
        now=saturday + timedelta(hours=23, minutes=20),
    )
    assert [f"{row.starts_at:%H:%M}" for row in found] == ["09:00", "09:15", "09:30", "09:45"]
    assert in_week(found, 1) == in_week(found, 2) == ("09:00", 2)
    assert [row.holds_now for row in found] == [False, True, False, False]
    assert found[0].cells[6].column.put == "to=1&day=2026-03-29"
    assert found[1].put == "time=09:15"


@pytest.mark.parametrize(
    ("monday", "start", "minutes", "shown"),
    [
        (date(2026, 3, 23), datetime(2026, 3, 29, 0, 30, tzinfo=UTC), 60, ("00:30", 8)),
        (date(2026, 10, 19), datetime(2026, 10, 25, 0, 30, tzinfo=UTC), 45, ("01:30", 1)),
    ],
)
def test_a_visit_through_an_hour_that_is_missing_or_there_twice(
    monday: date, start: datetime, minutes: int, shown: tuple[str, int]
) -> None:
    _room, one = placed(1, start, start + timedelta(minutes=minutes))
    columns = [Column(resource_id=1, day=monday + timedelta(days=6), placed=[one])]
    found = lay_out_week(columns=columns, opens=time(9), closes=time(10), now=start, zone=LONDON)
    assert in_week(found, 1) == shown


def test_a_visit_over_midnight_stands_on_both_days() -> None:
    late = datetime(2026, 3, 24, 23, 30, tzinfo=UTC)
    over = Placed(Booking(pk=1), late, late + timedelta(hours=1), "")
    columns = [Column(resource_id=1, day=day, placed=[over]) for day in (date(2026, 3, 24), date(2026, 3, 25))]
    found = lay_out_week(columns=columns, opens=time(9), closes=time(10), now=late, zone=LONDON)
    assert [len(found), found[0].cells[1].rows, found[94].cells[0].rows] == [96, 2, 2]
