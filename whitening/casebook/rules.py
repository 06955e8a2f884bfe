"""Pure rules of the casebook: until when a pencilled time is held, and the days that lie between visits."""

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from clinic.diary.engine.working import instant

# Common practice, no source: two days to think after the consultation, a week without one, a day's notice before.
DAYS_AFTER_CONSULTATION = 2
DAYS_WITHOUT_CONSULTATION = 7
HELD_UNTIL = time(18)
NOTICE = timedelta(hours=24)

# Time for the patient to answer, read and think between consultation and session; common practice, no source.
DAYS_TO_THINK = 1
# A cleaning counts from its 7th to its 180th day. Two New Zealand providers ask for 14 days, one US practice for none,
# and no trial was found (weak, in conflict); sooner the dentist looks at the gums first (HYG-02). Why at all: S07.
CLEAN_FROM_DAY, CLEAN_UNTIL_DAY = 7, 180
# Oxygen left in the enamel weakens a bond. 7 days in one review, 28 in another study, none in a third: S21, in
# conflict. 14 is the usual rule and from memory; never under 7.
BONDING_AFTER_DAYS, BONDING_LEAST_DAYS = 14, 7
# Where there is no plan yet. Sessions two or seven days apart gave the same colour: S23.
USUAL_DAYS_BETWEEN = 7


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
