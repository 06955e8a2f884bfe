"""Wall-clock arithmetic against worked examples and over every zone there is."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.messages.timing import Hours, allowed_from, day_bounds, days_after, days_before, instant, months_after

HOURS = Hours(8, 20)
WARSAW = ZoneInfo("Europe/Warsaw")
ZONES = sorted(available_timezones())


@pytest.mark.parametrize(
    ("anchor", "months", "day"),
    [
        # Counted from the anchor, never chained; common practice, no source.
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2028, 1, 31), 1, date(2028, 2, 29)),
        (date(2026, 1, 31), 2, date(2026, 3, 31)),
        (date(2026, 1, 31), 3, date(2026, 4, 30)),
        (date(2028, 2, 29), 12, date(2029, 2, 28)),
        (date(2026, 12, 31), 2, date(2027, 2, 28)),
        (date(2026, 3, 31), -1, date(2026, 2, 28)),
    ],
)
def test_months_from_the_anchor(anchor: date, months: int, day: date) -> None:
    assert months_after(anchor, months) == day


@pytest.mark.parametrize(
    ("on", "at", "expected"),
    [
        # Directive 2000/84/EC: summer time begins on the last Sunday of March and ends on the last Sunday
        # of October, both at 01:00 UTC. In Warsaw 02:00 to 03:00 is then left out, or shown twice.
        (date(2027, 3, 28), time(1, 59), datetime(2027, 3, 28, 0, 59, tzinfo=UTC)),
        (date(2027, 3, 28), time(2, 30), datetime(2027, 3, 28, 1, 30, tzinfo=UTC)),
        (date(2027, 3, 28), time(3, 0), datetime(2027, 3, 28, 1, 0, tzinfo=UTC)),
        (date(2027, 10, 31), time(2, 30), datetime(2027, 10, 31, 0, 30, tzinfo=UTC)),
        (date(2027, 10, 31), time(3, 0), datetime(2027, 10, 31, 2, 0, tzinfo=UTC)),
    ],
)
def test_the_two_nights_of_the_clock_change(on: date, at: time, expected: datetime) -> None:
    assert instant(on=on, at=at, zone=WARSAW) == expected


def test_two_days_before_is_the_same_wall_time() -> None:
    # Monday 29 March 2027, 09:00 summer time; two days before it was 09:00 winter time.
    visit = datetime(2027, 3, 29, 7, 0, tzinfo=UTC)
    reminder = days_before(visit, days=2, zone=WARSAW, hours=HOURS)
    assert reminder == datetime(2027, 3, 27, 8, 0, tzinfo=UTC)
    assert visit - reminder == timedelta(hours=47)


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        (datetime(2026, 3, 3, 7, 59, tzinfo=UTC), datetime(2026, 3, 3, 8, 0, tzinfo=UTC)),
        (datetime(2026, 3, 3, 8, 0, tzinfo=UTC), datetime(2026, 3, 3, 8, 0, tzinfo=UTC)),
        (datetime(2026, 3, 3, 19, 59, 59, tzinfo=UTC), datetime(2026, 3, 3, 19, 59, 59, tzinfo=UTC)),
        (datetime(2026, 3, 3, 20, 0, tzinfo=UTC), datetime(2026, 3, 4, 8, 0, tzinfo=UTC)),
        (datetime(2026, 3, 3, 0, 0, tzinfo=UTC), datetime(2026, 3, 3, 8, 0, tzinfo=UTC)),
        # The night in which London's clocks go forward: 08:00 summer time is 07:00 UTC.
        (datetime(2026, 3, 28, 21, 0, tzinfo=UTC), datetime(2026, 3, 29, 7, 0, tzinfo=UTC)),
    ],
)
def test_quiet_hours_in_london(at: datetime, expected: datetime) -> None:
    assert allowed_from(at, zone=ZoneInfo("Europe/London"), hours=HOURS) == expected


def test_hours_that_end_at_midnight() -> None:
    zone = ZoneInfo("Europe/London")
    last = datetime(2026, 3, 3, 23, 59, tzinfo=UTC)
    assert allowed_from(last, zone=zone, hours=Hours(8, 24)) == last
    assert allowed_from(last + timedelta(minutes=1), zone=zone, hours=Hours(8, 24)) == last + timedelta(
        hours=8, minutes=1
    )


def test_a_day_may_have_23_or_25_hours() -> None:
    start, end = day_bounds(date(2027, 3, 28), WARSAW)
    assert end - start == timedelta(hours=23)
    start, end = day_bounds(date(2027, 10, 31), WARSAW)
    assert end - start == timedelta(hours=25)


START = datetime(2026, 1, 1, tzinfo=UTC)
moments = st.integers(0, 11 * 365 * 24 * 3600).map(lambda seconds: START + timedelta(seconds=seconds))


@given(zone=st.sampled_from(ZONES), at=moments)
def test_allowed_moments_lie_inside_the_hours_and_never_earlier(zone: str, at: datetime) -> None:
    place = ZoneInfo(zone)
    moved = allowed_from(at, zone=place, hours=HOURS)
    assert at <= moved <= at + timedelta(hours=37)
    # Some zones skip a morning hour (or, as on Pacific islands, a day): the wall clock decides, not the sum.
    assert 8 <= moved.astimezone(place).hour < 20
    assert allowed_from(moved, zone=place, hours=HOURS) == moved


@given(zone=st.sampled_from(ZONES), at=moments, days=st.integers(1, 400))
def test_a_reminder_comes_before_and_reads_the_same(zone: str, at: datetime, days: int) -> None:
    place = ZoneInfo(zone)
    earlier = days_after(at, days=-days, zone=place)
    assert earlier < at
    assert (at.astimezone(place).date() - earlier.astimezone(place).date()).days == days
    assert earlier.tzinfo is UTC
    back = instant(on=earlier.astimezone(place).date(), at=earlier.astimezone(place).time(), zone=place)
    # Read off and put back, it is one instant: the first of two where the clock shows it twice.
    assert back in {earlier, earlier - timedelta(hours=1), earlier - timedelta(minutes=30)}


@given(zone=st.sampled_from(ZONES), on=st.dates(date(2026, 1, 1), date(2036, 12, 30)))
def test_days_follow_one_another_without_gap_or_overlap(zone: str, on: date) -> None:
    place = ZoneInfo(zone)
    start, end = day_bounds(on, place)
    assert start < end
    assert day_bounds(on + timedelta(days=1), place)[0] == end
    middle = start + (end - start) / 2
    assert middle.astimezone(place).date() == on
