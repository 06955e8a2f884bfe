"""A zone's rules as they travel inside a calendar, against the zone itself."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from icalendar import Event, Timezone

from clinic.diary import zone_rules
from tests.clinic.diary.ics import observances, offset_at

FIRST, LAST = date(2025, 1, 1), date(2026, 12, 31)
QUARTER = timedelta(minutes=15)


@pytest.mark.parametrize(
    ("zone", "number"),
    [
        ("Europe/Berlin", 4),
        ("Europe/London", 4),
        # Summer time is the standard there, and winter a negative saving.
        ("Europe/Dublin", 4),
        ("America/New_York", 4),
        # Half an hour.
        ("Australia/Lord_Howe", 4),
        # Five weeks of another time, twice, and the clock set back for good in the second year.
        ("Africa/Casablanca", 5),
        ("Asia/Kolkata", 0),
        ("UTC", 0),
    ],
)
def test_every_quarter_hour_of_two_years(zone: str, number: int) -> None:
    known = ZoneInfo(zone)
    # Written and read back, as it travels.
    whole = Timezone.from_ical(zone_rules.rules(known, first_on=FIRST, last_on=LAST).to_ical())
    assert str(whole["TZID"]) == zone
    rules = observances(whole)
    assert len(rules) == number + 1
    at, wrong = datetime(2024, 12, 31, tzinfo=UTC), []
    while at < datetime(2027, 1, 1, tzinfo=UTC):
        if offset_at(rules, at) != at.astimezone(known).utcoffset():
            wrong.append(at)
        at += QUARTER
    assert wrong == []


def test_an_onset_is_told_on_the_clock_before_it() -> None:
    """The example of RFC 5545, 3.6.5: two o'clock in spring, two o'clock in autumn."""
    whole = zone_rules.rules(ZoneInfo("America/New_York"), first_on=date(2007, 1, 1), last_on=date(2007, 12, 31))
    lines = whole.to_ical().decode().splitlines()
    assert [line for line in lines if line.startswith("DTSTART")][1:] == [
        "DTSTART:20070311T020000",
        "DTSTART:20071104T020000",
    ]
    assert [line for line in lines if line.startswith("TZNAME")] == ["TZNAME:EST", "TZNAME:EDT", "TZNAME:EST"]


@pytest.mark.parametrize(
    ("start", "end", "written"),
    [
        ((0, 15), (0, 45), ("TZID=Europe/Berlin:20261025T021500", "TZID=Europe/Berlin:20261025T024500")),
        # The second time that the clock shows a quarter past two.
        ((1, 15), (1, 45), (":20261025T011500Z", ":20261025T014500Z")),
        # One end alone is enough.
        ((0, 45), (1, 15), (":20261025T004500Z", ":20261025T011500Z")),
        ((2, 0), (2, 30), ("TZID=Europe/Berlin:20261025T030000", "TZID=Europe/Berlin:20261025T033000")),
    ],
)
def test_the_hour_that_comes_twice(start: tuple[int, int], end: tuple[int, int], written: tuple[str, str]) -> None:
    event = Event()
    at = datetime(2026, 10, 25, tzinfo=UTC)
    zone_rules.put_times(
        event,
        start_at=at.replace(hour=start[0], minute=start[1]),
        end_at=at.replace(hour=end[0], minute=end[1]),
        zone=ZoneInfo("Europe/Berlin"),
    )
    lines = event.to_ical().decode().splitlines()
    assert lines[1].partition("DTSTART")[2].lstrip(";") == written[0]
    assert lines[2].partition("DTEND")[2].lstrip(";") == written[1]
