"""What the link of a visit offers now, as the practice has set it. Pure: no database, no clock."""

from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitFacts:
    """is_pencilled: held, not booked yet. takes_late: with short notice too a visit may be cancelled by link."""

    starts_at: datetime
    is_booked: bool
    is_pencilled: bool
    is_accepted: bool
    may_move: bool
    notice_hours: int
    takes_late: bool


@dataclass(frozen=True, slots=True)
class Offer:
    """is_short: less notice is left than the practice asks for."""

    keep: bool = False
    move: bool = False
    cancel: bool = False
    is_short: bool = False

    @property
    def anything(self) -> bool:
        return self.keep or self.move or self.cancel


def offered(visit: VisitFacts, *, now: datetime) -> Offer:
    """Keeping is possible until the visit begins; with short notice another time is found on the telephone only.

    A pencilled time was promised to nobody yet: it can be given back at any moment, and nothing else.
    """
    if now >= visit.starts_at or not (visit.is_booked or visit.is_pencilled):
        return Offer()
    if visit.is_pencilled:
        return Offer(cancel=True)
    is_short = visit.starts_at - now < timedelta(hours=visit.notice_hours)
    return Offer(
        keep=not visit.is_accepted,
        move=visit.may_move and not is_short,
        cancel=visit.takes_late or not is_short,
        is_short=is_short,
    )


def narrowed(
    window: tuple[datetime, datetime], *, earliest_at: datetime | None, latest_at: datetime | None
) -> tuple[datetime, datetime]:
    """What the practice's rules leave of the times, cut to what the visit itself waits for. May be empty."""
    first, last = window
    return max(first, earliest_at or first), min(last, latest_at or last)
