"""Two turns on call: one that runs, and the next week's. Outside of them the dentist of the site's page stands in."""

from datetime import date, datetime, time, timedelta

from clinic.accounts.actions.rota import add_turn
from clinic.diary.engine.working import instant
from whitening.demo.world.practice import House

_WEEK, _CHANGES_AT = timedelta(days=7), time(8)


def on_call(house: House, today: date, *, now: datetime) -> None:
    """From Monday to Monday; before eight on a Monday the last week's turn still runs, so it began a week before."""
    monday = today - timedelta(days=today.weekday())
    manager = house.one("manager")
    turns = ((monday - _WEEK, "dentist"), (monday, "mateo"), (monday + _WEEK, "dentist"))
    for from_on, who in turns:
        span = [instant(day, _CHANGES_AT, house.site.zone) for day in (from_on, from_on + _WEEK)]
        if span[1] > now:
            add_turn(
                site=house.site,
                person=house.one(who),
                from_at=span[0],
                until_at=span[1],
                user=manager,
                actor=manager.actor,
                now=now,
            )
