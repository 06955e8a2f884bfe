"""Decisions about one message at the moment of hand-over. Pure: no database, no clock."""

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from clinic.messages.timing import Hours, allowed_from, days_after

# At most so many per patient, safety and answers to the patient's own request apart. Common practice, no source.
MOST_A_DAY = 1
MOST_A_WEEK = 3
WEEK = timedelta(days=7)
# After a transient failure; the last one is repeated until the message is too late. Common practice, no source.
BACK_OFF_MINUTES = (1, 2, 4, 8, 16, 30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How somebody could be reached; `tried` are the channels that failed for this message."""

    preferred: str
    email: str
    email_bounced: bool
    phone_takes_texts: bool
    texts_on: bool
    tried: frozenset[str] = frozenset()
    # Ways in which this person does not want to be written to about what the message is for.
    refused: frozenset[str] = frozenset()

    def usable(self, channel: str) -> bool:
        if channel in self.tried or channel in self.refused:
            return False
        if channel == "email":
            return bool(self.email) and not self.email_bounced
        return channel == "text" and self.phone_takes_texts and self.texts_on


def channel_for(reach: Reach) -> str:
    """The channel that carries the message, or "" when a person has to do it.

    Who asked to be called or to get letters is not written to, as long as nothing else was tried.
    """
    if reach.preferred not in ("email", "text"):
        return ""
    order = [reach.preferred, "email", "text"]
    return next((channel for channel in order if reach.usable(channel)), "")


def is_refused(reach: Reach) -> bool:
    """There is a way, and the person does not want it."""
    return bool(not channel_for(reach) and channel_for(replace(reach, refused=frozenset())))


def only_bounced(reach: Reach) -> bool:
    """An e-mail would carry it, had none come back from the address."""
    return reach.email_bounced and channel_for(reach) == "" and bool(channel_for(replace(reach, email_bounced=False)))


def back_off(times_refused: int) -> timedelta:
    return timedelta(minutes=BACK_OFF_MINUTES[min(max(times_refused, 1), len(BACK_OFF_MINUTES)) - 1])


def capped_until(*, sent_at: list[datetime], now: datetime, zone: ZoneInfo) -> datetime | None:
    """None when one more may go now; else the same wall time on the first day with room for it.

    `sent_at`: messages of the last days that count against the limits.
    """
    sent_on = [at.astimezone(zone).date() for at in sent_at]
    today = now.astimezone(zone).date()
    for days in range(WEEK.days + 1):
        if _room_on(today + timedelta(days=days), sent_on):
            return None if days == 0 else days_after(now, days=days, zone=zone)
    # Not reached with the limits above: after a week without sending, every day has room.
    return days_after(now, days=WEEK.days, zone=zone)


def _room_on(day: date, sent_on: list[date]) -> bool:
    on_day = sum(1 for sent in sent_on if sent == day)
    in_week = sum(1 for sent in sent_on if day - WEEK < sent <= day)
    return on_day < MOST_A_DAY and in_week < MOST_A_WEEK


def next_open_day(at: datetime, *, closed_days: frozenset[date], zone: ZoneInfo, hours: Hours) -> datetime:
    """The same wall time on the first day that is not closed."""
    later = at
    while later.astimezone(zone).date() in closed_days:
        later = days_after(later, days=1, zone=zone)
    return allowed_from(later, zone=zone, hours=hours)
