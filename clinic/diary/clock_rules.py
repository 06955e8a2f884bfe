"""Visits whose agreed time on the clock has become another moment, because a country changed its clock rules.

Governments announce such changes weeks ahead at best, and the new rules arrive with a new tzdata package
(https://data.iana.org/time-zones/tz-link.html). A booking keeps the time on the clock and the moment that was derived
from it; where the two differ now, the patient comes at the one and the claims lie at the other.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from importlib.metadata import version
from zoneinfo import ZoneInfo

from clinic.accounts.models import Site
from clinic.diary.models import COMING, Booking

RULES = version("tzdata")
# Sites found in order, with the rules and the day: the rules change with a new start of the program, and what is
# booked since then follows the new ones. In memory only, as reading a page writes nothing.
_in_order: dict[int, tuple[str, date]] = {}


@dataclass(frozen=True, slots=True)
class Shifted:
    """A visit, and the moment at which the clock will show its time under today's rules."""

    booking: Booking
    starts_at: datetime


def shifted_visits(site: Site, *, now: datetime) -> list[Shifted]:
    """Visits still to begin whose moment is no longer that of their wall-clock time, in order of time."""
    seen = (RULES, now.date())
    if _in_order.get(site.pk) == seen:
        return []
    moments = dict(_moments(site, now))
    if not moments:
        _in_order[site.pk] = seen
        return []
    rows = Booking.objects.filter(pk__in=moments).select_related("patient", "visit_type", "site")
    return [Shifted(row, moments[row.pk]) for row in rows.order_by("wall_on", "wall_time", "pk")]


def look_again() -> None:
    """Forgets which sites were in order."""
    _in_order.clear()


def _moments(site: Site, now: datetime) -> Iterator[tuple[int, datetime]]:
    coming = Booking.objects.filter(site=site, status__in=COMING, starts_at__gt=now)
    columns = coming.order_by().values_list("pk", "wall_on", "wall_time", "zone", "starts_at")
    for pk, wall_on, wall_time, zone, starts_at in columns.iterator():
        meant = moments_of(wall_on, wall_time, ZoneInfo(zone))
        if starts_at not in meant:
            yield pk, meant[0]


def moments_of(day: date, at: time, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The moment of a wall-clock time; in an hour that the clock shows twice the first and the second."""
    first, second = (datetime.combine(day, at.replace(fold=fold), tzinfo=zone).astimezone(UTC) for fold in (0, 1))
    return first, second
