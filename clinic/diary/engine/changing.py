"""What becomes of working hours when some of them change from a day on: everything outside the change stays."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, time, timedelta

from clinic.diary.engine.working import Pattern, week


@dataclass(frozen=True, slots=True)
class Change:
    """New stretches on some weekdays, from a day until before another; none at all means not working then.

    every_weeks 2 changes the week of the first day and every other one from there; the weeks between stay.
    """

    weekdays: frozenset[int]
    stretches: tuple[tuple[time, time], ...]
    from_on: date
    until_on: date | None = None
    every_weeks: int = 1

    def touches(self, day: date) -> bool:
        return (
            day.weekday() in self.weekdays
            and self.from_on <= day
            and (self.until_on is None or day < self.until_on)
            and (week(day) - week(self.from_on)) % self.every_weeks == 0
        )


def changed(patterns: Sequence[Pattern], change: Change) -> list[Pattern]:
    """On days that the change touches its stretches, on all others what was there before."""
    kept = [part for pattern in patterns for part in _kept(pattern, change)]
    return kept + [
        Pattern(day, start, end, change.from_on, change.until_on, change.every_weeks)
        for day in sorted(change.weekdays)
        for start, end in change.stretches
    ]


def _kept(pattern: Pattern, change: Change) -> Iterable[Pattern]:
    if pattern.weekday not in change.weekdays or _in_other_weeks(pattern, change):
        return [pattern]
    parts = [_part(pattern, pattern.from_on, change.from_on)]
    if change.every_weeks == 2 and pattern.every_weeks == 1:
        between = replace(pattern, from_on=_next_monday(change.from_on), every_weeks=2)
        parts.append(_part(between, pattern.from_on, change.until_on))
    if change.until_on is not None:
        parts.append(_part(pattern, change.until_on, None))
    return [part for part in parts if part is not None]


def _in_other_weeks(pattern: Pattern, change: Change) -> bool:
    return pattern.every_weeks == change.every_weeks == 2 and not pattern.is_its_week(change.from_on)


def _part(pattern: Pattern, from_on: date, until_on: date | None) -> Pattern | None:
    """The pattern between two days; nothing where none of its days lies there."""
    start = max(from_on, pattern.from_on)
    if not pattern.is_its_week(start):
        start = _next_monday(start)
    ends = [one for one in (pattern.until_on, until_on) if one is not None]
    part = replace(pattern, from_on=start, until_on=min(ends, default=None))
    return part if part.next_on(part.from_on) is not None else None


def _next_monday(day: date) -> date:
    return day + timedelta(days=7 - day.weekday())
