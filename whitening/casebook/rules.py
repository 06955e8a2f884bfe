"""Pure rules of the casebook: until when a pencilled time is held."""

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from clinic.diary.engine.working import instant

# Common practice, no source: two days to think after the consultation, a week without one, a day's notice before.
DAYS_AFTER_CONSULTATION = 2
DAYS_WITHOUT_CONSULTATION = 7
HELD_UNTIL = time(18)
NOTICE = timedelta(hours=24)


def pencilled_until(
    *, now: datetime, session_starts_at: datetime, consultation_ends_at: datetime | None, zone: ZoneInfo
) -> datetime:
    """When a pencilled session lapses: in the evening after time to think, but a day before the session itself.

    A session within the next day is held for an hour, so that the telephone call can be finished.
    """
    anchor = consultation_ends_at or now
    days = DAYS_AFTER_CONSULTATION if consultation_ends_at else DAYS_WITHOUT_CONSULTATION
    evening = instant(anchor.astimezone(zone).date() + timedelta(days=days), HELD_UNTIL, zone)
    return max(min(evening, session_starts_at - NOTICE), now + timedelta(hours=1))
