"""Which stretches of the diary became free: noted in the transaction that freed them, offered around by the tick."""

from collections.abc import Iterable
from datetime import datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from clinic.accounts.models import Site
from clinic.diary.engine.spans import Span, merged, to_instant, to_minute, to_minute_up
from clinic.diary.engine.working import instant
from clinic.diary.models import Booking, FreedTime, WaitingWish

# So far ahead times are offered: as far as a search for a time looks.
DAYS_AHEAD = 90


def visit_gone(booking: Booking, *, now: datetime) -> None:
    """The visit does not stand at this time any more."""
    stretch_gone(site_id=booking.site_id, starts_at=booking.starts_at, ends_at=booking.ends_at, now=now)


def stretch_gone(*, site_id: int, starts_at: datetime | None, ends_at: datetime | None, now: datetime) -> None:
    """Nothing is written where nobody waits, or where it is over; without an end it is as far as times are offered."""
    first = max(starts_at or now, now)
    last = min(ends_at or now + timedelta(days=DAYS_AHEAD), now + timedelta(days=DAYS_AHEAD))
    if first < last and WaitingWish.objects.waiting().filter(site=site_id).exists():
        FreedTime.objects.create(site_id=site_id, starts_at=first, ends_at=last)


def gaps(rows: Iterable[FreedTime], *, site: Site, now: datetime) -> list[Span]:
    """What became free and is still to come, without overlaps, in order; a stretch ends with its day."""
    spans = merged((max(to_minute(row.starts_at), to_minute_up(now)), to_minute_up(row.ends_at)) for row in rows)
    return [part for span in spans for part in _by_day(span, site.zone)]


def _by_day(span: Span, zone: ZoneInfo) -> Iterable[Span]:
    first_on = to_instant(span[0]).astimezone(zone).date()
    days = (to_instant(span[1]).astimezone(zone).date() - first_on).days
    midnights = (to_minute(instant(first_on + timedelta(days=day), time(0), zone)) for day in range(1, days + 1))
    edges = [span[0], *(one for one in midnights if one < span[1]), span[1]]
    return pairwise(edges)
