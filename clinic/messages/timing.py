"""When a message is due: wall-clock arithmetic of one site. Pure; durations are computed in UTC only."""

from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from dateutil.relativedelta import relativedelta


class Hours(NamedTuple):
    """Half-open: messages go out from the first hour until just before the second."""

    from_hour: int
    until_hour: int


def instant(*, on: date, at: time, zone: ZoneInfo) -> datetime:
    """The moment the wall clock shows that time, in UTC.

    A time that the clock shows twice means the first one. A time that a spring change leaves out
    means the moment after the gap that lies as far behind it: 02:30 becomes 03:30.
    """
    wall = datetime.combine(on, at, tzinfo=zone).replace(fold=0)
    return wall.astimezone(UTC)


def months_after(anchor: date, months: int) -> date:
    """Counted from the anchor and never chained: 31 January + 1 = 28 or 29 February, + 2 = 31 March."""
    return anchor + relativedelta(months=months)


def days_after(start_at: datetime, *, days: int, zone: ZoneInfo) -> datetime:
    """The same wall-clock time so many calendar days later (or earlier, for a negative number)."""
    wall = start_at.astimezone(zone)
    return instant(on=wall.date() + timedelta(days=days), at=wall.time(), zone=zone)


def days_before(start_at: datetime, *, days: int, zone: ZoneInfo, hours: Hours) -> datetime:
    """A reminder: same wall time, calendar days before, moved into the hours in which messages may go out."""
    return allowed_from(days_after(start_at, days=-days, zone=zone), zone=zone, hours=hours)


def allowed_from(at: datetime, *, zone: ZoneInfo, hours: Hours) -> datetime:
    """The first moment from `at` on that lies inside the hours."""
    wall = at.astimezone(zone)
    opens = instant(on=wall.date(), at=time(hours.from_hour), zone=zone)
    if at < opens:
        return opens
    if at < _closes(wall.date(), zone=zone, hours=hours):
        return at
    return instant(on=wall.date() + timedelta(days=1), at=time(hours.from_hour), zone=zone)


def day_bounds(on: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The instants from which and until just before which the wall calendar shows that day."""
    midnight = time(0)
    return instant(on=on, at=midnight, zone=zone), instant(on=on + timedelta(days=1), at=midnight, zone=zone)


def _closes(on: date, *, zone: ZoneInfo, hours: Hours) -> datetime:
    if hours.until_hour == 24:
        return day_bounds(on, zone)[1]
    return instant(on=on, at=time(hours.until_hour), zone=zone)
