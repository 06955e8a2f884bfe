"""On which of the coming days the practice works."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from clinic.accounts.models import Site
from clinic.diary.engine.working import instant
from clinic.diary.models import Resource, ResourceKind
from clinic.diary.shut import read_hours

# Time to reach somebody on the telephone; common practice, no source.
WORKING_DAYS = 2
# Longer no practice is closed at a stretch; then the days are counted as they come.
LOOKED_THROUGH = 21


def working_days(site: Site, *, now: datetime) -> Sequence[date]:
    """The next two days after today on which the practice works: a room is open. Three queries."""
    tomorrow = now.astimezone(site.zone).date() + timedelta(days=1)
    rooms = Resource.objects.bookable().filter(site=site, kind=ResourceKind.ROOM)
    hours = read_hours(site, [room.pk for room in rooms], first_on=tomorrow, days=LOOKED_THROUGH)
    days = [tomorrow + timedelta(days=number) for number in range(LOOKED_THROUGH)]
    working = [day for day in days if any(one.open_within(*_bounds(day, site)) for one in hours.values())]
    return (working if len(working) >= WORKING_DAYS else days)[:WORKING_DAYS]


def _bounds(day: date, site: Site) -> tuple[datetime, datetime]:
    return instant(day, time(0), site.zone), instant(day + timedelta(days=1), time(0), site.zone)
