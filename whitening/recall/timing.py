"""When what follows a session is due. Pure; days are counted from the session's own day on the site's wall clock."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from clinic.diary.engine.working import instant
from clinic.messages.timing import months_after
from whitening.recall.triage import Urgency

# 44 to 60 hours after the session (S22: sensitivity is mostly gone by then); ten o'clock is common practice, no source.
CHECK_AFTER_DAYS, CHECK_AT = 2, time(10)
CHECK_FIRST, CHECK_LAST = timedelta(hours=44), timedelta(hours=60)
RE_ASK_DAYS = 2  # F48-02: asked again 48 hours later
RE_ASK_UNTIL_DAY = 7  # from then on any sensitivity is looked at (F7-01), not asked about once more
SILENT_UNTIL_DAY = 4  # F48-11: no reply by day four, after two tries on two channels, becomes a call
# Half-way between the first try and the call; common practice, no source.
SECOND_TRY_AFTER = timedelta(days=1)
# S23, S37: trials read the final colour from day 28 to 42 after the last session.
REVIEW_FIRST_DAY, REVIEW_LAST_DAY, REVIEW_PAGE_UNTIL = 28, 42, 60
# Invited, asked again, called: a week apart, so that a week is left for a time inside the window that the call finds.
# Common practice, no source.
REVIEW_PAGE_FROM, REVIEW_REMINDER_DAY, REVIEW_CALL_DAY = 21, 28, 35
# S40, S50: how soon an adult is seen again is the dentist's judgement, between 3 and 24 months; no fixed interval was
# found to be better. About the colour once, in about a year (S50: convention).
CHECK_MONTHS, COLOUR_MONTHS = (3, 6, 9, 12, 18, 24), 12
# S39 names no interval; asked three times at most, four weeks apart: common practice, no source.
RECALL_TIMES, RECALL_AGAIN_DAYS = 3, 28
CALL_AT, EVENING = time(10), time(18)
# After a try in vain: later the same day, once; then on the next day at another time of the day. Whoever was left a
# message is given until then to ring back. Common practice, no source.
TRY_AGAIN_AFTER, TRIES_A_DAY = timedelta(hours=3), 2
NOON, AFTERNOON = time(13), time(16)
DAY = timedelta(days=1)
# F48-03; the same day and at once speak for themselves.
ANSWER_WITHIN = {
    Urgency.EMERGENCY: timedelta(0),
    Urgency.URGENT: timedelta(hours=2),
    Urgency.SAME_DAY: timedelta(hours=2),
}
# F48-09 and F7-01 say 72 hours. On days on which somebody works: nobody promises a Sunday that nobody can keep.
WITHIN_WORKING_DAYS = 3


@dataclass(frozen=True, slots=True)
class Window:
    """Half-open, as instants."""

    due_at: datetime
    until_at: datetime


def local_day(at: datetime, zone: ZoneInfo) -> date:
    return at.astimezone(zone).date()


def day_number(*, closed_at: datetime, at: datetime, zone: ZoneInfo) -> int:
    """Which day after the session it is where the patient was treated; the session's own day is 0."""
    return (local_day(at, zone) - local_day(closed_at, zone)).days


def two_day_check(closed_at: datetime, zone: ZoneInfo) -> Window:
    """Ten in the morning two days on, kept inside 44 to 60 hours after the session closed."""
    anchor = local_day(closed_at, zone)
    closed_at = closed_at.astimezone(UTC)  # hours are counted as they pass, not as a wall clock shows them
    due_at = instant(anchor + timedelta(days=CHECK_AFTER_DAYS), CHECK_AT, zone)
    due_at = min(max(due_at, closed_at + CHECK_FIRST), closed_at + CHECK_LAST)
    silent_at = instant(anchor + timedelta(days=SILENT_UNTIL_DAY), CALL_AT, zone)
    return Window(due_at, max(silent_at, due_at))


def re_ask(said_at: datetime, zone: ZoneInfo) -> Window:
    """Two days after a worrying answer; silent for a day, it becomes a call."""
    due_at = instant(local_day(said_at, zone) + timedelta(days=RE_ASK_DAYS), CHECK_AT, zone)
    return Window(due_at, due_at + DAY)


def next_day_call(closed_at: datetime, zone: ZoneInfo) -> Window:
    day = local_day(closed_at, zone) + DAY
    return Window(instant(day, CALL_AT, zone), instant(day, EVENING, zone))


def late_call(closed_at: datetime, zone: ZoneInfo, *, now: datetime) -> Window:
    """Of what was written down after the closing: the call on the next day, or at once where that day has passed."""
    window = next_day_call(closed_at, zone)
    return window if now < window.until_at else Window(now, max(now, instant(local_day(now, zone), EVENING, zone)))


def next_call(tried_at: datetime, zone: ZoneInfo, *, left_message: bool, tries_today: int) -> datetime:
    """When to call again after a call that reached nobody; tries_today counts the one just made."""
    today, later = local_day(tried_at, zone), tried_at.astimezone(UTC) + TRY_AGAIN_AFTER
    if not left_message and tries_today < TRIES_A_DAY and later <= instant(today, EVENING, zone):
        return later
    was_morning = tried_at.astimezone(zone).time() < NOON
    return instant(today + DAY, AFTERNOON if was_morning else CALL_AT, zone)


def review(last_session_closed_at: datetime, zone: ZoneInfo) -> Window:
    """Invited a week before day 28; a call when a week of the window is left."""
    return Window(
        _on_day(REVIEW_PAGE_FROM, last_session_closed_at, zone), _on_day(REVIEW_CALL_DAY, last_session_closed_at, zone)
    )


def review_reminder(last_session_closed_at: datetime, zone: ZoneInfo) -> Window:
    """Asked again when the window opens and no time was picked, until it becomes a call."""
    until_at = review(last_session_closed_at, zone).until_at
    return Window(_on_day(REVIEW_REMINDER_DAY, last_session_closed_at, zone), until_at)


def _on_day(number: int, closed_at: datetime, zone: ZoneInfo) -> datetime:
    return instant(local_day(closed_at, zone) + timedelta(days=number), CALL_AT, zone)


def review_page(last_session_closed_at: datetime, zone: ZoneInfo) -> Window:
    """How long the patient can pick a time for the review: day 21 to the end of day 60."""
    opens_at = review(last_session_closed_at, zone).due_at
    last_on = local_day(last_session_closed_at, zone) + timedelta(days=REVIEW_PAGE_UNTIL)
    return Window(opens_at, instant(last_on + DAY, time(0), zone))


def review_times(last_session_closed_at: datetime, zone: ZoneInfo) -> Window:
    """When the review itself can be: from the start of day 28 to the end of day 60."""
    first_on = local_day(last_session_closed_at, zone) + timedelta(days=REVIEW_FIRST_DAY)
    return Window(instant(first_on, time(0), zone), review_page(last_session_closed_at, zone).until_at)


def review_is_late(*, last_session_on: date, reviewed_on: date) -> bool:
    """Later than day 42 is accepted and marked."""
    return (reviewed_on - last_session_on).days > REVIEW_LAST_DAY


def recall_due(reviewed_at: datetime, *, months: int, zone: ZoneInfo) -> datetime:
    """Ten in the morning so many months after the review's own day; the end of a month stays its end."""
    return instant(months_after(local_day(reviewed_at, zone), months), CALL_AT, zone)


def recall_again(asked_at: datetime, zone: ZoneInfo) -> datetime:
    """When silence is asked once more, or the asking ends."""
    return instant(local_day(asked_at, zone) + timedelta(days=RECALL_AGAIN_DAYS), CALL_AT, zone)


def counts_as_check(*, due_at: datetime, said_at: datetime, zone: ZoneInfo) -> bool:
    """An answer on the check's own day is the check, also before the question went out; an earlier one is not."""
    return local_day(said_at, zone) >= local_day(due_at, zone)


def escalation_due(
    urgency: Urgency, *, said_at: datetime, reads_at: datetime, last_day: date, zone: ZoneInfo
) -> datetime:
    """By when a person must have answered. Counted from when somebody is there; an emergency is due at once.

    last_day: the last of the working days within which the least urgent is called.
    """
    if urgency is Urgency.EMERGENCY:
        return said_at
    if urgency is Urgency.WITHIN_DAYS:
        return instant(last_day, reads_at.astimezone(zone).time(), zone)
    due_at = reads_at.astimezone(UTC) + ANSWER_WITHIN[urgency]
    if urgency is Urgency.SAME_DAY:
        return max(due_at, instant(local_day(reads_at, zone), EVENING, zone))
    return due_at
