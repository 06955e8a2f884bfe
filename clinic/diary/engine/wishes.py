"""Which starts suit the patient: weekdays and a part of the day, on the wall clock of the site."""

from dataclasses import dataclass
from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

from clinic.diary.engine.spans import Span, to_minute, to_minute_up
from clinic.diary.engine.working import instant


@dataclass(frozen=True, slots=True)
class Wishes:
    """Monday is 0. No weekday: any. The visit starts at `not_before` or later and is over by `over_by`."""

    weekdays: frozenset[int] = frozenset()
    not_before: time | None = None
    over_by: time | None = None

    @property
    def any_time(self) -> bool:
        return self == Wishes()

    def starts(self, *, minutes: int, first_on: date, days: int, zone: ZoneInfo) -> list[Span]:
        """Start minutes of a visit of this length that suit, in order, on so many days from the first one on."""
        spans = (self._of_day(first_on + timedelta(days=number), minutes, zone) for number in range(days))
        return [(start, end) for start, end in spans if start < end]

    def _of_day(self, day: date, minutes: int, zone: ZoneInfo) -> Span:
        if self.weekdays and day.weekday() not in self.weekdays:
            return 0, 0
        first = to_minute_up(instant(day, self.not_before or time(0), zone))
        if self.over_by is None:
            return first, to_minute(instant(day + timedelta(days=1), time(0), zone))
        # A start is a single minute, so the last one that is over in time belongs to it.
        return first, to_minute(instant(day, self.over_by, zone)) - minutes + 1
