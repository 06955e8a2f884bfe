"""Hours of every other week, and what a change of hours leaves as it was."""

from datetime import date, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary.engine.changing import Change, changed
from clinic.diary.engine.working import Pattern, week

NINE, NOON, FIVE = time(9), time(12), time(17)
SINCE = date(2026, 11, 30)


@pytest.mark.parametrize(
    ("day", "iso"),
    [
        # ISO 8601: week 1 holds the year's first Thursday. Written from memory.
        (date(2005, 1, 1), (2004, 53, 6)),
        (date(2005, 1, 2), (2004, 53, 7)),
        (date(2007, 1, 1), (2007, 1, 1)),
        (date(2008, 12, 29), (2009, 1, 1)),
        (date(2010, 1, 3), (2009, 53, 7)),
        # 2026 begins on a Thursday, 2032 too and is a leap year: both have 53 weeks. 2027 has 52.
        (date(2026, 12, 31), (2026, 53, 4)),
        (date(2027, 1, 3), (2026, 53, 7)),
        (date(2027, 1, 4), (2027, 1, 1)),
        (date(2027, 12, 31), (2027, 52, 5)),
        (date(2033, 1, 2), (2032, 53, 7)),
    ],
)
def test_a_week_is_a_week_of_iso_8601(day: date, iso: tuple[int, int, int]) -> None:
    assert tuple(day.isocalendar()) == iso
    monday = date.fromisocalendar(iso[0], iso[1], 1)
    assert week(day) == week(monday) == week(monday - timedelta(days=1)) + 1


@pytest.mark.parametrize(
    ("day", "open_"),
    [
        (date(2026, 11, 25), False),  # before the first day
        (date(2026, 12, 2), True),  # W49
        (date(2026, 12, 9), False),
        (date(2026, 12, 16), True),  # W51
        (date(2026, 12, 30), True),  # W53, and two weeks later:
        (date(2027, 1, 6), False),  # W01, odd like the week before it
        (date(2027, 1, 13), True),  # W02
        (date(2027, 1, 12), False),  # a Tuesday
        (date(2032, 12, 22), True),  # six years on: W52, W53, W01
        (date(2032, 12, 29), False),
        (date(2033, 1, 5), True),
    ],
)
def test_every_other_wednesday(day: date, open_: bool) -> None:
    """The first day may be any day of its week."""
    for first in (SINCE, date(2026, 12, 1), date(2026, 12, 2)):
        assert Pattern(2, NINE, FIVE, first, None, 2).holds_on(day) is open_


def test_from_a_day_of_the_week_that_is_over() -> None:
    """Wednesdays from a Friday on: the first one is that of the week after the next."""
    pattern = Pattern(2, NINE, FIVE, date(2026, 12, 4), None, 2)
    assert pattern.next_on(SINCE) == date(2026, 12, 16)
    assert pattern.next_on(date(2026, 12, 17)) == date(2026, 12, 30)
    assert Pattern(2, NINE, FIVE, date(2026, 12, 4), date(2026, 12, 16), 2).next_on(SINCE) is None


def test_one_week_early_and_the_other_late() -> None:
    early = Change(frozenset({2}), ((NINE, NOON),), SINCE, None, 2)
    late = Change(frozenset({2}), ((NOON, FIVE),), SINCE + timedelta(weeks=1), None, 2)
    weekly = [Pattern(2, NINE, FIVE, date(2020, 1, 1))]
    after = changed(changed(weekly, early), late)
    wednesdays = [date(2026, 11, 25) + timedelta(weeks=n) for n in range(5)]
    assert [hours_on(after, day) for day in wednesdays] == [
        [(NINE, FIVE)],
        [(NINE, NOON)],
        [(NOON, FIVE)],
        [(NINE, NOON)],
        [(NOON, FIVE)],
    ]


def test_for_some_weeks_and_then_as_before() -> None:
    summer = Change(frozenset(range(5)), ((NINE, NOON),), date(2026, 7, 1), date(2026, 9, 1))
    after = changed([Pattern(2, NINE, FIVE, date(2020, 1, 1))], summer)
    assert [(row.from_on, row.until_on) for row in sorted(after, key=lambda row: row.from_on) if row.weekday == 2] == [
        (date(2020, 1, 1), date(2026, 7, 1)),
        (date(2026, 7, 1), date(2026, 9, 1)),
        (date(2026, 9, 1), None),
    ]


def test_what_changes_nothing_leaves_every_row_as_it_is() -> None:
    rows = [Pattern(0, NINE, FIVE, date(2020, 1, 1)), Pattern(2, NINE, FIVE, SINCE, None, 2)]
    assert changed(rows, Change(frozenset({3}), (), SINCE)) == rows
    other_weeks = Change(frozenset({2}), (), SINCE + timedelta(weeks=1), None, 2)
    assert changed(rows[1:], other_weeks) == rows[1:]


DAYS = st.dates(date(2026, 11, 1), date(2027, 2, 28))
TIMES = st.sampled_from([(NINE, NOON), (NOON, FIVE), (NINE, FIVE)])
WEEKDAYS = st.integers(0, 1)
WEEKS = st.integers(1, 2)


@st.composite
def some_patterns(draw: st.DrawFn) -> Pattern:
    first, length = draw(DAYS), draw(st.none() | st.integers(1, 60))
    until = None if length is None else first + timedelta(days=length)
    return Pattern(draw(WEEKDAYS), *draw(TIMES), first, until, draw(WEEKS))


@st.composite
def some_changes(draw: st.DrawFn) -> Change:
    first, length = draw(DAYS), draw(st.none() | st.integers(1, 60))
    until = None if length is None else first + timedelta(days=length)
    stretches = draw(st.lists(TIMES, max_size=1).map(tuple))
    return Change(draw(st.frozensets(WEEKDAYS, min_size=1)), stretches, first, until, draw(WEEKS))


def hours_on(patterns: list[Pattern], day: date) -> list[tuple[time, time]]:
    return sorted((one.from_time, one.to_time) for one in patterns if one.holds_on(day))


@given(st.lists(some_patterns(), max_size=4), st.lists(some_changes(), min_size=1, max_size=3))
def test_new_inside_a_change_and_old_everywhere_else(before: list[Pattern], changes: list[Change]) -> None:
    for change in changes:
        after = changed(before, change)
        for day in (date(2026, 10, 25) + timedelta(days=n) for n in range(220)):
            wanted = sorted(change.stretches) if change.touches(day) else hours_on(before, day)
            assert hours_on(after, day) == wanted, day
        before = after
