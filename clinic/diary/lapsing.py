"""What the desk has to hear before it comes: pencilled times that lapse, and firm ones that nobody confirmed."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from clinic.accounts.models import Site
from clinic.diary.engine.working import instant
from clinic.diary.models import Booking, Resource, ResourceKind, Status
from clinic.diary.shut import read_hours

# Time to reach somebody on the telephone; common practice, no source.
WORKING_DAYS = 2
SHOWN = 20
# Longer no practice is closed at a stretch; then the days are counted as they come.
LOOKED_THROUGH = 21


def lapsing_soon(site: Site, *, until_on: date, now: datetime, done: int | None = None) -> Sequence[Booking]:
    """The one that lapses first on top. done: a visit that somebody has just let go here; it can be taken back."""
    until = instant(until_on + timedelta(days=1), time(0), site.zone)
    rows = Booking.objects.filter(site=site, starts_at__gt=now).select_related("patient", "visit_type", "site")
    soon = rows.filter(status=Status.PROPOSED, lapses_at__gt=now, lapses_at__lt=until)
    found = list(soon.order_by("lapses_at", "pk")[:SHOWN])
    if done is not None:
        found += rows.filter(pk=done, status=Status.CANCELLED, status_from=Status.PROPOSED)
    return found


def not_confirmed(site: Site, *, until_on: date, now: datetime) -> Sequence[Booking]:
    """Firm visits of the coming days of which the patient has not said that they come: somebody calls them."""
    tomorrow = now.astimezone(site.zone).date() + timedelta(days=1)
    rows = Booking.objects.filter(site=site, status=Status.BOOKED, accepted_at=None)
    rows = rows.filter(wall_on__gte=tomorrow, wall_on__lte=until_on)
    return list(rows.select_related("patient", "visit_type", "site").order_by("starts_at", "pk")[:SHOWN])


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
