"""When a worrying answer that nobody has taken is raised again, and to whom. Pure.

All figures here are common practice, no source: the first repeat soon, because one mail is easily missed; then
everybody who may decide; and an end, because words that never stop are no longer read. The card on Today stays.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta

from whitening.recall.triage import Urgency

# After the time by which somebody should have answered. An emergency was due at once and has just been told.
AGAIN_AFTER: Mapping[Urgency, tuple[timedelta, ...]] = {
    Urgency.EMERGENCY: tuple(timedelta(minutes=each) for each in (10, 20, 60, 120)),
    Urgency.URGENT: tuple(timedelta(minutes=each) for each in (0, 30, 60, 120)),
    Urgency.SAME_DAY: tuple(timedelta(hours=each) for each in (0, 1, 3, 15)),
    Urgency.WITHIN_DAYS: tuple(timedelta(hours=each) for each in (0, 4, 24, 48)),
}
MOST = 4
# The first repeat is for the person on call alone; from the second on everybody who may decide is told.
EVERYBODY_FROM = 2
# Who has taken it is left in peace for as long as an urgent answer may take (F48-03); then it shows as overdue again.
TAKEN_HOLDS = timedelta(hours=2)


def step_reached(urgency: Urgency, *, due_at: datetime, now: datetime) -> int:
    """How often it should have been raised again by now: 0 before the first time, MOST at the end."""
    return sum(due_at + gap <= now for gap in AGAIN_AFTER.get(urgency, ()))


def begins_at(urgency: Urgency, *, due_at: datetime, handed_on_at: datetime | None) -> datetime:
    """From when the steps count. A new owner was told at once, so their first repeat comes a whole gap later."""
    gaps = AGAIN_AFTER.get(urgency, ())
    if handed_on_at is None or not gaps:
        return due_at
    return max(due_at, handed_on_at + gaps[1] - 2 * gaps[0])


def goes_to_everybody(step: int) -> bool:
    return step >= EVERYBODY_FROM


def waits_for_opening(urgency: Urgency) -> bool:
    """What may take three days wakes nobody at night."""
    return urgency is Urgency.WITHIN_DAYS


def is_overdue(*, due_at: datetime, taken_at: datetime | None, now: datetime) -> bool:
    return now > (due_at if taken_at is None else max(due_at, taken_at + TAKEN_HOLDS))
