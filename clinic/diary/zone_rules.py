"""The rules of a time zone as a VTIMEZONE (RFC 5545, 3.6.5), for calendar programs that know no zone by name.

Made here and not by the library: it writes the onset in the wall-clock time after the change where the
standard wants the one before, an hour too late in spring, and steps over a change that lasts a few weeks.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from icalendar import Component, Event, Timezone, TimezoneDaylight, TimezoneStandard

_DAY = timedelta(days=1)
_MINUTE = timedelta(minutes=1)


@lru_cache(maxsize=64)
def changes(zone: ZoneInfo, first_on: date, last_on: date) -> tuple[datetime, ...]:
    """The instants in these days at which the distance from UTC becomes another."""
    return tuple(_changes(zone, _before(first_on), _after(last_on)))


def rules(zone: ZoneInfo, *, first_on: date, last_on: date) -> Timezone:
    """What holds on the first day, and each change until the last one."""
    whole = Timezone()
    whole.add("tzid", zone.key)
    first_at = _before(first_on)
    whole.add_component(_observance(zone, first_at, _offset(zone, first_at)))
    for at in changes(zone, first_on, last_on):
        whole.add_component(_observance(zone, at, _offset(zone, at - _MINUTE)))
    return whole


@lru_cache(maxsize=64)
def as_text(zone: ZoneInfo, first_on: date, last_on: date) -> bytes:
    """The rules as they stand in a calendar: the same lines in each invitation of a year, and most of what it holds."""
    return bytes(rules(zone, first_on=first_on, last_on=last_on).to_ical())


def put_times(event: Event, *, start_at: datetime, end_at: datetime, zone: ZoneInfo) -> None:
    """Start and end on the wall clock of the zone, as people read them.

    In the hour that a clock shows twice, a local time means the first one (RFC 5545, 3.3.5), so the second
    can only be written in UTC. Both ends then, because programs expect them alike.
    """
    start, end = start_at.astimezone(zone), end_at.astimezone(zone)
    if start.fold or end.fold:
        start, end = start.astimezone(UTC), end.astimezone(UTC)
    event.add("dtstart", start)
    event.add("dtend", end)


def _changes(zone: ZoneInfo, start_at: datetime, end_at: datetime) -> Iterator[datetime]:
    """Day by day, so that a change that is taken back after some weeks is seen too."""
    while start_at < end_at:
        later = min(start_at + _DAY, end_at)
        if _offset(zone, start_at) != _offset(zone, later):
            yield _first_minute(zone, start_at, later)
        start_at = later


def _first_minute(zone: ZoneInfo, before: datetime, after: datetime) -> datetime:
    """Halved until one minute is left: zones of today change on the minute."""
    old = _offset(zone, before)
    while after - before > _MINUTE:
        middle = before + (after - before) // _MINUTE // 2 * _MINUTE
        before, after = (middle, after) if _offset(zone, middle) == old else (before, middle)
    return after


def _observance(zone: ZoneInfo, at: datetime, offset_from: timedelta) -> Component:
    local = at.astimezone(zone)
    part = TimezoneDaylight() if local.dst() else TimezoneStandard()
    # The onset on the clock as it stood until then.
    part.add("dtstart", (at + offset_from).replace(tzinfo=None))
    part.add("tzoffsetfrom", offset_from)
    part.add("tzoffsetto", _offset(zone, at))
    part.add("tzname", local.tzname() or zone.key)
    return part


def _offset(zone: ZoneInfo, at: datetime) -> timedelta:
    return at.astimezone(zone).utcoffset() or timedelta()


def _before(day: date) -> datetime:
    """Early enough for every zone: the wall clock is never more than fourteen hours from UTC."""
    return datetime.combine(day - _DAY, time(), tzinfo=UTC)


def _after(day: date) -> datetime:
    return datetime.combine(day + 2 * _DAY, time(), tzinfo=UTC)
