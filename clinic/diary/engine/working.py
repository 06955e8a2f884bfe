"""Working time: wall-clock patterns turned into stretches of minutes, one zone, day by day."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from clinic.diary.engine.spans import Span, to_minute


@dataclass(frozen=True, slots=True)
class Pattern:
    """Open on one weekday (Monday is 0) from one wall-clock time to another; until_on is the first day without it.

    every_weeks 2: only in the week of the first day, and in every other week from there.
    """

    weekday: int
    from_time: time
    to_time: time
    from_on: date
    until_on: date | None = None
    every_weeks: int = 1

    def holds_on(self, day: date) -> bool:
        return (
            day.weekday() == self.weekday
            and self.from_on <= day
            and (self.until_on is None or day < self.until_on)
            and self.is_its_week(day)
        )

    def is_its_week(self, day: date) -> bool:
        return (week(day) - week(self.from_on)) % self.every_weeks == 0

    def next_on(self, day: date) -> date | None:
        """The first day not before that one on which it holds."""
        first = max(day, self.from_on)
        return next((one for one in _days(first, 14) if self.holds_on(one)), None)


def week(day: date) -> int:
    """Weeks from Monday to Sunday (ISO 8601), counted through without a break.

    Not the number within the year: after a year of 53 weeks two odd numbers follow one another,
    and whoever works in every other week would work twice running.
    """
    return (day.toordinal() - 1) // 7


def instant(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The instant of a wall-clock time. In a spring gap the clock has jumped: the time after it is meant."""
    return datetime.combine(day, at, tzinfo=zone).astimezone(UTC)


def exists(day: date, at: time, zone: ZoneInfo) -> bool:
    """Whether the wall clock ever shows this time (false inside a spring gap)."""
    shown = instant(day, at, zone).astimezone(zone)
    return (shown.date(), shown.time()) == (day, at)


def working_spans(patterns: Sequence[Pattern], *, first_on: date, days: int, zone: ZoneInfo) -> list[Span]:
    """Many resources share their hours, and searches ask for the same days again: what was asked before is known."""
    return list(_working_spans(tuple(patterns), first_on, days, zone))


@lru_cache(maxsize=512)
def _working_spans(patterns: tuple[Pattern, ...], first_on: date, days: int, zone: ZoneInfo) -> tuple[Span, ...]:
    return tuple(span for day in _days(first_on, days) for span in _day_spans(patterns, day, zone))


def _day_spans(patterns: Sequence[Pattern], day: date, zone: ZoneInfo) -> Iterator[Span]:
    for pattern in patterns:
        if pattern.holds_on(day):
            yield to_minute(instant(day, pattern.from_time, zone)), to_minute(instant(day, pattern.to_time, zone))


def _days(first_on: date, days: int) -> Iterator[date]:
    return (first_on + timedelta(days=n) for n in range(days))
