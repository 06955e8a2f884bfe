"""The public holidays of the coming year at a site: those to close on, and those on which it is closed already."""

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta

from dateutil.relativedelta import relativedelta

from clinic.accounts.models import Site
from clinic.accounts.public_holidays import named_days
from clinic.diary.engine.working import instant
from clinic.diary.models import Closure, ClosureKind

NamedDay = tuple[date, str]


def holidays_ahead(site: Site, *, now: datetime) -> tuple[list[NamedDay], list[NamedDay]]:
    """One query."""
    today = now.astimezone(site.zone).date()
    named = named_days(site.country, site.region, first_on=today, before_on=today + relativedelta(years=1))
    rows = list(Closure.objects.coming(now).filter(site=site, resource=None))
    closed = [day for day in named if _is_closed(site, day[0], rows)]
    return [day for day in named if day not in closed], closed


def closures_on(site: Site, days: Iterable[NamedDay]) -> list[Closure]:
    """The whole site, each day from midnight to midnight; not kept yet."""
    return [
        Closure(
            site=site,
            kind=ClosureKind.HOLIDAY,
            starts_at=instant(day, time(0), site.zone),
            ends_at=instant(day + timedelta(days=1), time(0), site.zone),
            reason=name[:120],
        )
        for day, name in days
    ]


def _is_closed(site: Site, day: date, closures: list[Closure]) -> bool:
    start_at, end_at = (instant(one, time(0), site.zone) for one in (day, day + timedelta(days=1)))
    return any(one.starts_at <= start_at and end_at <= one.ends_at for one in closures)
