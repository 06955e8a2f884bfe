"""Hours are wall-clock hours: on the days of a clock change too, and in every zone of the pinned tzdata."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary.engine.spans import to_instant, to_minute, to_minute_up
from clinic.diary.engine.working import Pattern, exists, instant, working_spans

LONDON, WARSAW = ZoneInfo("Europe/London"), ZoneInfo("Europe/Warsaw")
ZONES = sorted(available_timezones())
zones = st.sampled_from(ZONES).map(ZoneInfo)
days = st.dates(date(2026, 1, 1), date(2036, 12, 31))
times = st.times().map(lambda one: one.replace(second=0, microsecond=0, fold=0))


@pytest.mark.parametrize(
    ("day", "zone", "utc_hour"),
    [
        # The Saturday before, the Sunday of the change itself, in spring and in autumn.
        (date(2027, 3, 27), LONDON, 9),
        (date(2027, 3, 28), LONDON, 8),
        (date(2026, 10, 24), LONDON, 8),
        (date(2026, 10, 25), LONDON, 9),
        (date(2027, 3, 27), WARSAW, 8),
        (date(2027, 3, 28), WARSAW, 7),
        (date(2026, 10, 24), WARSAW, 7),
        (date(2026, 10, 25), WARSAW, 8),
    ],
)
def test_nine_o_clock_is_nine_o_clock(day: date, zone: ZoneInfo, utc_hour: int) -> None:
    assert instant(day, time(9), zone) == datetime.combine(day, time(utc_hour), tzinfo=UTC)


@pytest.mark.parametrize(
    ("day", "at", "zone", "there"),
    [
        (date(2027, 3, 28), time(1, 30), LONDON, False),
        (date(2027, 3, 28), time(2, 30), WARSAW, False),
        (date(2027, 3, 28), time(2, 30), LONDON, True),
        # The hour that is there twice exists.
        (date(2026, 10, 25), time(1, 30), LONDON, True),
        (date(2026, 10, 25), time(2, 30), WARSAW, True),
    ],
)
def test_the_hour_that_is_skipped(day: date, at: time, zone: ZoneInfo, there: bool) -> None:
    assert exists(day, at, zone) is there


def test_hours_across_a_change_are_as_long_as_they_last() -> None:
    """Open from midnight to six: five hours in spring, seven in autumn."""
    night = [Pattern(6, time(0), time(6), date(2026, 1, 1))]
    for day, hours in ((date(2027, 3, 28), 5), (date(2026, 10, 25), 7), (date(2026, 11, 1), 6)):
        ((start, end),) = working_spans(night, first_on=day, days=1, zone=LONDON)
        assert end - start == hours * 60


@given(zones, days, times)
def test_a_wall_time_that_exists_comes_back(zone: ZoneInfo, day: date, at: time) -> None:
    shown = instant(day, at, zone).astimezone(zone)
    if exists(day, at, zone):
        assert (shown.date(), shown.time()) == (day, at)
    else:
        # In a gap the clock has jumped: the time shown is later, never earlier.
        assert (shown.date(), shown.time()) > (day, at)


@given(zones, days)
def test_hours_of_a_day_are_in_order_and_inside_it(zone: ZoneInfo, day: date) -> None:
    pattern = [Pattern(day.weekday(), time(9), time(17), day)]
    midnight, next_midnight = (to_minute(instant(one, time(0), zone)) for one in (day, day + timedelta(days=1)))
    for start, end in working_spans(pattern, first_on=day, days=1, zone=zone):
        assert midnight <= start < end <= next_midnight


@pytest.mark.parametrize(
    ("day", "open_"),
    [
        (date(2026, 1, 28), False),  # before the first day
        (date(2026, 2, 4), True),
        (date(2026, 2, 25), True),
        (date(2026, 3, 4), False),  # the first day without it
        (date(2026, 2, 5), False),  # a Thursday
    ],
)
def test_a_pattern_holds_from_a_day_to_before_another(day: date, open_: bool) -> None:
    wednesdays = Pattern(2, time(9), time(17), date(2026, 2, 4), date(2026, 3, 4))
    assert wednesdays.holds_on(day) is open_
    assert bool(working_spans([wednesdays], first_on=day, days=1, zone=LONDON)) is open_


def test_month_ends_and_leap_days_are_days_like_others() -> None:
    daily = [Pattern(day, time(9), time(10), date(2027, 1, 1)) for day in range(7)]
    found = working_spans(daily, first_on=date(2028, 1, 31), days=31, zone=WARSAW)
    assert len(found) == 31
    shown = [to_instant(start).astimezone(WARSAW) for start, _ in found]
    assert [one.date() for one in shown] == [date(2028, 1, 31) + timedelta(days=n) for n in range(31)]
    assert date(2028, 2, 29) in {one.date() for one in shown}
    assert {one.time() for one in shown} == {time(9)}


@given(st.datetimes(datetime(1970, 1, 1), datetime(2200, 1, 1), timezones=st.just(UTC)))  # noqa: DTZ001  (bounds)
def test_minutes_and_back(at: datetime) -> None:
    down, up = to_instant(to_minute(at)), to_instant(to_minute_up(at))
    assert down <= at <= up
    assert up - down == (timedelta(0) if at == down else timedelta(minutes=1))
