"""When what follows a session is due. Pure; days are counted from the anchor in the site's wall-clock time."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from clinic.diary.engine.working import instant

# 44 to 60 hours after the session (reference/clinical.md 5.1); the hour of the day is common practice, no source.
CHECK_AFTER_DAYS, CHECK_AT = 2, time(10)
CHECK_FIRST, CHECK_LAST = timedelta(hours=44), timedelta(hours=60)
RE_ASK_DAYS = 2  # F48-02: asked again 48 hours later
SILENT_UNTIL_DAY = 4  # F48-11: no reply by day four becomes a call
REVIEW_FIRST_DAY, REVIEW_LAST_DAY, REVIEW_PAGE_UNTIL = 28, 42, 60
REVIEW_PAGE_FROM = 21
CALL_AT = time(10)
DAY = timedelta(days=1)
REPLY_WITHIN = {
    "EMERGENCY": timedelta(0),
    "URGENT": timedelta(hours=2),
    "WITHIN_DAYS": timedelta(hours=72),
}


@dataclass(frozen=True, slots=True)
class Window:
    """Half-open, as instants."""

    due_at: datetime
    until_at: datetime


def two_day_check(closed_at: datetime, zone: ZoneInfo) -> Window:
    """Ten in the morning two days on, kept inside 44 to 60 hours after the session closed."""
    day = closed_at.astimezone(zone).date() + timedelta(days=CHECK_AFTER_DAYS)
    due_at = instant(day, CHECK_AT, zone)
    due_at = min(max(due_at, closed_at + CHECK_FIRST), closed_at + CHECK_LAST)
    silent_at = instant(closed_at.astimezone(zone).date() + timedelta(days=SILENT_UNTIL_DAY), CALL_AT, zone)
    return Window(due_at, max(silent_at, due_at))


def next_day_call(closed_at: datetime, zone: ZoneInfo) -> Window:
    day = closed_at.astimezone(zone).date() + timedelta(days=1)
    return Window(instant(day, CALL_AT, zone), instant(day, time(18), zone))


def review(last_session_closed_at: datetime, zone: ZoneInfo) -> Window:
    """Invited a week before day 28; a call after day 42."""
    anchor = last_session_closed_at.astimezone(zone).date()
    return Window(
        instant(anchor + timedelta(days=REVIEW_PAGE_FROM), CALL_AT, zone),
        instant(anchor + timedelta(days=REVIEW_LAST_DAY + 1), time(0), zone),
    )


def review_is_late(*, last_session_on: date, reviewed_on: date) -> bool:
    """Later than day 42 is accepted and marked; so is nothing before day 28 (that is another visit)."""
    return (reviewed_on - last_session_on).days > REVIEW_LAST_DAY


def escalation_due(urgency: str, *, said_at: datetime, zone: ZoneInfo) -> datetime:
    """By when a person must have answered. Same day: by six in the evening, or within two hours after that."""
    if urgency != "SAME_DAY":
        return said_at + REPLY_WITHIN[urgency]
    evening = instant(said_at.astimezone(zone).date(), time(18), zone)
    return max(evening, said_at + timedelta(hours=2))
