"""When somebody at the practice reads what a patient writes: its rooms' opening hours, closures taken out."""

from datetime import date, datetime, timedelta

from clinic.accounts.models import Site
from clinic.diary.engine.spans import Span, to_instant, to_minute, to_minute_up, without
from clinic.diary.engine.working import Pattern, working_spans
from clinic.diary.models import Closure, ResourceKind, WorkingPattern
from clinic.messages.closed import closed_days

LOOK_AHEAD_DAYS = 21


def reads_at(site: Site, *, now: datetime) -> datetime:
    """Now while the practice is open, else its next opening; now as well where no hours are set up."""
    spans = open_spans(site, now=now, days=LOOK_AHEAD_DAYS)
    if spans is None:
        return now
    minute = to_minute(now)
    coming = [span for span in spans if span[1] > minute]
    return max(now, to_instant(coming[0][0])) if coming else now + timedelta(days=LOOK_AHEAD_DAYS)


def open_spans(site: Site, *, now: datetime, days: int) -> list[Span] | None:
    """Of so many days from today on, holidays and closures taken out; None where no hours are set up."""
    start_on = now.astimezone(site.zone).date()
    patterns = _patterns(site)
    if not patterns:
        return None
    spans = working_spans(patterns, first_on=start_on, days=days, zone=site.zone)
    holidays = closed_days(site, start_on.year)
    open_ones = [span for span in spans if to_instant(span[0]).astimezone(site.zone).date() not in holidays]
    return without(open_ones, _closures(site, now))


def working_day_after(at: datetime, site: Site, *, number: int) -> date:
    """The first, second, … day after that one on which the practice is open; by the calendar where no hours are set."""
    today = at.astimezone(site.zone).date()
    spans = open_spans(site, now=at, days=LOOK_AHEAD_DAYS) or []
    days = sorted({to_instant(start).astimezone(site.zone).date() for start, _end in spans} - {today})
    return days[number - 1] if len(days) >= number else today + timedelta(days=number)


def is_open(site: Site, *, now: datetime) -> bool:
    return reads_at(site, now=now) == now


def _patterns(site: Site) -> list[Pattern]:
    rooms = WorkingPattern.objects.filter(resource__site=site, resource__kind=ResourceKind.ROOM)
    return [pattern for some in rooms.by_resource().values() for pattern in some]


def _closures(site: Site, now: datetime) -> list[Span]:
    """Of the whole site: a closed room alone keeps nobody from reading."""
    rows = Closure.objects.filter(site=site, resource=None, ends_at__gt=now)
    return [
        (to_minute(start_at), to_minute_up(end_at)) for start_at, end_at in rows.values_list("starts_at", "ends_at")
    ]
