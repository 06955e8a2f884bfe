"""When a visit is reminded of: a table, and every zone over ten years."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clinic.diary.engine.working import instant
from clinic.diary.reminding import Remind, reminders
from clinic.messages.timing import Hours
from tests.soak import examples

LONDON = ZoneInfo("Europe/London")
HOURS = Hours(8, 20)
# A Tuesday at nine.
VISIT = datetime(2026, 3, 17, 9, 0, tzinfo=LONDON)
ZONES = st.sampled_from(sorted(available_timezones())).map(ZoneInfo)


def due(booked_at: datetime, *, starts_at: datetime = VISIT) -> dict[str, str]:
    found = reminders(starts_at=starts_at, zone=LONDON, hours=HOURS, now=booked_at)
    return {one.kind.value: f"{one.due_at.astimezone(LONDON):%a %d %b %H:%M}" for one in found}


WEEK, TWO_DAYS = {"visit_week_before": "Tue 10 Mar 09:00"}, {"visit_two_days_before": "Sun 15 Mar 09:00"}


@pytest.mark.parametrize(
    ("booked_at", "gets"),
    [
        (datetime(2026, 2, 1, 9, 0, tzinfo=UTC), WEEK | TWO_DAYS),
        (datetime(2026, 3, 8, 9, 0, tzinfo=UTC), WEEK | TWO_DAYS),
        # Its confirmation is not two days old then.
        (datetime(2026, 3, 8, 9, 1, tzinfo=UTC), TWO_DAYS),
        (datetime(2026, 3, 14, 9, 0, tzinfo=UTC), TWO_DAYS),
        (datetime(2026, 3, 14, 9, 1, tzinfo=UTC), {}),
        (datetime(2026, 3, 17, 8, 0, tzinfo=UTC), {}),
    ],
)
def test_none_follows_on_the_confirmation(booked_at: datetime, gets: dict[str, str]) -> None:
    assert due(booked_at) == gets


def test_over_the_night_when_the_clock_changes_it_is_the_wall_time_that_counts() -> None:
    """29 March 2026, an hour is missing; the visit is at nine summer time, its reminders at nine as well."""
    starts_at = datetime(2026, 3, 30, 9, 0, tzinfo=LONDON)
    assert due(datetime(2026, 3, 1, tzinfo=UTC), starts_at=starts_at) == {
        "visit_week_before": "Mon 23 Mar 09:00",
        "visit_two_days_before": "Sat 28 Mar 09:00",
    }


def test_never_at_night() -> None:
    """A visit at seven is reminded of at eight, one at half past eight in the evening on the next morning."""
    early = datetime(2026, 3, 17, 7, 0, tzinfo=LONDON)
    late = datetime(2026, 3, 17, 20, 30, tzinfo=LONDON)
    booked_at = datetime(2026, 2, 1, tzinfo=UTC)
    assert due(booked_at, starts_at=early)["visit_two_days_before"] == "Sun 15 Mar 08:00"
    assert due(booked_at, starts_at=late)["visit_two_days_before"] == "Mon 16 Mar 08:00"


@given(
    ZONES,
    st.dates(date(2026, 1, 20), date(2036, 12, 31)),
    st.times(time(7), time(20)),
    st.integers(0, 20 * 24 * 60),
)
@settings(max_examples=examples(300, 10_000))
def test_in_every_zone_in_order_and_inside_the_hours(zone: ZoneInfo, on: date, at: time, minutes_before: int) -> None:
    starts_at = instant(on, at.replace(second=0, microsecond=0), zone)
    booked_at = starts_at - timedelta(minutes=minutes_before)
    found = reminders(starts_at=starts_at, zone=zone, hours=HOURS, now=booked_at)
    moments = [one.due_at for one in found]
    assert moments == sorted(moments)
    assert len({one.kind for one in found}) == len(found)
    for one in found:
        assert booked_at < one.due_at < one.not_after < starts_at
        assert HOURS.from_hour <= one.due_at.astimezone(zone).hour < HOURS.until_hour
    # The first may go out no later than the second is due.
    if [one.kind for one in found] == list(Remind):
        assert found[0].not_after <= found[1].due_at
