"""When nobody is there: public holidays; a leave that came in after visits were booked; a morning of training."""

from datetime import date, datetime, time, timedelta
from typing import Any

from clinic.accounts.public_holidays import named_days
from clinic.diary.actions.closing import close
from clinic.diary.engine.working import instant
from clinic.diary.holidays_ahead import closures_on
from clinic.diary.models import Closure, ClosureKind
from clinic.diary.refusals import VisitsOutside
from whitening.demo.world.practice import House


def closed_on_holidays(house: House, *, first_on: date, before_on: date, now: datetime) -> None:
    """As somebody ticked them in Set-up before the first visit was booked."""
    site, manager = house.site, house.one("manager")
    days = named_days(site.country, site.region, first_on=first_on, before_on=before_on)
    close(site=site, closures=closures_on(site, days), user=manager, actor=manager.actor, now=now)


def absences(house: House, today: date, *, now: datetime) -> None:
    """Next week, Thursday and Friday; and the Wednesday morning before."""
    monday = today + timedelta(days=7 - today.weekday())
    wednesday, thursday, saturday = (monday + timedelta(days=number) for number in (2, 3, 5))
    _away(house, "mateo", ClosureKind.LEAVE, first=(thursday, 0), before=(saturday, 0), now=now)
    _away(house, "hygienist", ClosureKind.TRAINING, first=(wednesday, 0), before=(wednesday, 13), now=now)


def _away(
    house: House,
    who: str,
    kind: ClosureKind,
    *,
    first: tuple[date, int],
    before: tuple[date, int],
    now: datetime,
) -> None:
    starts_at, ends_at = (instant(day, time(hour), house.site.zone) for day, hour in (first, before))
    resource = house.site.resources.get(person=house.one(who))
    closure = Closure(site=house.site, kind=kind, resource=resource, starts_at=starts_at, ends_at=ends_at)
    manager = house.one("manager")
    asked: dict[str, Any] = {
        "site": house.site,
        "closures": [closure],
        "user": manager,
        "actor": manager.actor,
        "now": now,
    }
    try:
        close(**asked)
    except VisitsOutside as refusal:
        # As "Save anyway" does: these visits stand on Today for the desk to move.
        close(**asked, agreed=[one.booking.pk for one in refusal.visits])
