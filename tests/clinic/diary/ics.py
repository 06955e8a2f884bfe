"""Reads a calendar as a program does that knows no zone by its name: by the rules in the file, to the letter.

RFC 5545, 3.6.5: each observance begins at its DTSTART, a time on the clock as it stood before (TZOFFSETFROM).
3.3.5: a time that the clock shows twice means the first. The reading library is milder than that.
"""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar, Component, Event

Observance = tuple[datetime, timedelta]
# Where the clock changes: by an hour, by half an hour, and back for five weeks of the year.
NIGHTS = [
    ("Europe/Berlin", date(2026, 3, 29)),
    ("Europe/Berlin", date(2026, 10, 25)),
    ("America/New_York", date(2026, 3, 8)),
    ("America/New_York", date(2026, 11, 1)),
    ("Australia/Lord_Howe", date(2026, 4, 5)),
    ("Australia/Lord_Howe", date(2026, 10, 4)),
    ("Africa/Casablanca", date(2026, 2, 15)),
    ("Africa/Casablanca", date(2026, 3, 22)),
]


def events(content: bytes) -> list[Event]:
    """Every VEVENT, read by the library without an error in any of them."""
    whole = Calendar.from_ical(content)
    found = [event for event in whole.walk("VEVENT") if isinstance(event, Event)]
    assert [whole.errors, *(event.errors for event in found)] == [[] for _ in range(len(found) + 1)]
    return found


def start_of(event: Event) -> datetime:
    start = event.start
    assert isinstance(start, datetime)
    return start


def end_of(event: Event) -> datetime:
    end = event.end
    assert isinstance(end, datetime)
    return end


def observances(zone: Component) -> list[Observance]:
    """From which instant on which distance from UTC holds."""
    parts = zone.walk("STANDARD") + zone.walk("DAYLIGHT")
    return sorted(
        (part.decoded("DTSTART").replace(tzinfo=UTC) - part.decoded("TZOFFSETFROM"), part.decoded("TZOFFSETTO"))
        for part in parts
    )


def offset_at(rules: Sequence[Observance], at: datetime) -> timedelta:
    return [offset for begins_at, offset in rules if begins_at <= at][-1]


def instant(rules: Sequence[Observance], local: datetime) -> datetime:
    """The first instant at which a clock under these rules shows that time."""
    meant = {local.replace(tzinfo=UTC) - offset for _, offset in rules}
    return min(at for at in meant if offset_at(rules, at) == local - at.replace(tzinfo=None))


def by_its_own_rules(content: bytes, name: str) -> dict[str, datetime]:
    """UID → the instant of DTSTART or DTEND, by nothing but what stands in the file."""
    whole = Calendar.from_ical(content)
    (zone,) = whole.walk("VTIMEZONE")
    rules = observances(zone)
    found: dict[str, datetime] = {}
    for event in whole.walk("VEVENT"):
        at, named = event.decoded(name), event[name].params.get("TZID")
        if named is None:
            assert at.tzname() == "UTC"
            found[str(event["UID"])] = at
        else:
            assert named == zone["TZID"]
            found[str(event["UID"])] = instant(rules, at.replace(tzinfo=None))
    return found
