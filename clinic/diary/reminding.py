"""When a visit is reminded of: a week before, while it can still be changed, and two days before. Pure."""

from datetime import datetime, timedelta
from enum import StrEnum
from typing import NamedTuple
from zoneinfo import ZoneInfo

from clinic.messages.timing import Hours, days_before


class Remind(StrEnum):
    """The kinds of message."""

    WEEK_BEFORE = "visit_week_before"
    TWO_DAYS_BEFORE = "visit_two_days_before"


class Reminder(NamedTuple):
    kind: Remind
    due_at: datetime
    not_after: datetime


# Seven and two days are the practice's brief; how late one may still go out, and how soon after the booking it says
# nothing new, is common practice, no source.
DAYS = {Remind.WEEK_BEFORE: 7, Remind.TWO_DAYS_BEFORE: 2}
NOT_AFTER = {Remind.WEEK_BEFORE: timedelta(days=3), Remind.TWO_DAYS_BEFORE: timedelta(hours=12)}
BOOKED_BEFORE = {Remind.WEEK_BEFORE: timedelta(days=2), Remind.TWO_DAYS_BEFORE: timedelta(days=1)}


def reminders(*, starts_at: datetime, zone: ZoneInfo, hours: Hours, now: datetime) -> list[Reminder]:
    """Those that a visit booked or moved now still gets; none that would follow on its confirmation."""
    found = []
    for kind, days in DAYS.items():
        due_at = days_before(starts_at, days=days, zone=zone, hours=hours)
        not_after = starts_at - NOT_AFTER[kind]
        if now + BOOKED_BEFORE[kind] <= due_at < not_after:
            found.append(Reminder(kind, due_at, not_after))
    return found
