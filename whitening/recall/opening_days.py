"""Opening hours of the next days as a patient reads them: days that are alike stand together. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

from clinic.diary.engine.spans import Span, to_instant

Hours = tuple[tuple[time, time], ...]
DAYS_SHOWN = 7


@dataclass(frozen=True, slots=True)
class OpeningDays:
    """One day, or several in a row with the same hours on the wall clock; without any, they are closed."""

    first_on: date
    last_on: date
    hours: Hours


def opening_days(spans: Sequence[Span], *, first_on: date, days: int, zone: ZoneInfo) -> list[OpeningDays]:
    rows: list[OpeningDays] = []
    for day in (first_on + timedelta(days=number) for number in range(days)):
        hours = tuple(_on_the_clock(span, zone) for span in spans if _day(span, zone) == day)
        if rows and rows[-1].hours == hours:
            rows[-1] = replace(rows[-1], last_on=day)
        else:
            rows.append(OpeningDays(day, day, hours))
    return rows


def _day(span: Span, zone: ZoneInfo) -> date:
    return to_instant(span[0]).astimezone(zone).date()


def _on_the_clock(span: Span, zone: ZoneInfo) -> tuple[time, time]:
    start, end = (to_instant(minute).astimezone(zone).time() for minute in span)
    return start, end
