"""What one person should be told, as a plain list: what was planned, what may still go out, what never may."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

LONDON = ZoneInfo("Europe/London")
DAY, HOUR = timedelta(days=1), timedelta(hours=1)
APPOINTMENT, SAFETY = "appointment", "safety"
CONFIRMED, MOVED, CANCELLED = "visit_confirmed", "visit_moved", "visit_cancelled"
WEEK, TWO_DAYS = "visit_week_before", "visit_two_days_before"
AFTERCARE, CHECK = "aftercare", "two_day_check"
INVITATION, REMINDER = "review_invitation", "review_reminder"
# Answers to what was just done go out at any hour; the others keep hours, days and limits.
AT_ONCE = {CONFIRMED, MOVED, CANCELLED, AFTERCARE}
PURPOSE = {AFTERCARE: SAFETY, CHECK: SAFETY}
# (days before the visit, until how long before it, booked so long before it is due)
REMINDERS = {WEEK: (7, 3 * DAY, 2 * DAY), TWO_DAYS: (2, 12 * HOUR, DAY)}


class Key(NamedTuple):
    subject: str
    pk: int
    kind: str
    version: int = 1


@dataclass
class Said:
    """One message. over: why it may never go out any more, from then on."""

    key: Key
    due_at: datetime
    not_after: datetime
    over: str = ""
    sent: bool = False
    # Given back after a mistake: it may have been put off before.
    is_back: bool = False

    @property
    def purpose(self) -> str:
        return PURPOSE.get(self.key.kind, APPOINTMENT)


@dataclass
class Visit:
    pk: int
    starts_at: datetime
    version: int = 1
    stands: bool = True


@dataclass
class Person:
    now: datetime
    said: dict[Key, Said] = field(default_factory=dict)
    visits: list[Visit] = field(default_factory=list)
    refused: set[str] = field(default_factory=set)
    died: bool = False

    def plan(self, key: Key, due_at: datetime, not_after: datetime) -> None:
        assert key not in self.said, f"{key} was planned already"
        self.said[key] = Said(key, due_at, not_after)

    def waiting(self) -> Iterator[Said]:
        return (one for one in self.said.values() if not one.sent and not one.over)

    def drop(self, because: str, *, subject: tuple[str, int] | None = None, purpose: str = "") -> None:
        for one in self.waiting():
            if subject in (None, (one.key.subject, one.key.pk)) and purpose in ("", one.purpose):
                one.over = because

    def closed_session(self, check: int, review: int) -> None:
        """Closed now: looked after at once, asked on day two, invited on day 21, once more on day 28."""
        silent_at, called_at = self.on(4), self.on(35)
        self.plan(Key("follow_up", check, AFTERCARE), self.now, silent_at)
        self.plan(Key("follow_up", check, CHECK), self.on(2), silent_at)
        self.plan(Key("follow_up", review, INVITATION), self.on(21), called_at)
        self.plan(Key("follow_up", review, REMINDER), self.on(28), called_at)

    def on(self, days: int) -> datetime:
        """Ten in the morning, so many days from today."""
        return wall(self.now.astimezone(LONDON).date() + days * DAY, time(10))

    def booked(self, visit: Visit) -> None:
        self.visits.append(visit)
        self._tell(visit, CONFIRMED)
        self._remind(visit)

    def moved(self, visit: Visit, starts_at: datetime) -> None:
        visit.starts_at, visit.version = starts_at, visit.version + 1
        self.drop("moved", subject=("booking", visit.pk))
        self._tell(visit, MOVED)
        self._remind(visit)

    def cancelled(self, visit: Visit) -> None:
        visit.stands, visit.version = False, visit.version + 1
        self.drop("cancelled", subject=("booking", visit.pk))
        self._tell(visit, CANCELLED)

    def chose(self, purpose: str, *, allowed: bool) -> None:
        """What was ended meanwhile stays ended. A question about harm stays planned, and becomes a call at its time."""
        if allowed:
            self.refused.discard(purpose)
            return
        self.refused.add(purpose)
        if purpose == APPOINTMENT:
            self.drop("not wanted", purpose=purpose)

    def answered(self, check: int) -> None:
        """On the day of the check or later: it is not asked again."""
        asked = self.said[Key("follow_up", check, CHECK)]
        if not asked.sent and self.now.astimezone(LONDON).date() >= asked.due_at.astimezone(LONDON).date():
            asked.over = asked.over or "answered"

    def passed_away(self) -> None:
        self.died = True
        self.drop("died")

    def lives(self) -> None:
        """What death had ended and is not too late waits again; of two invitations that are past, the last one."""
        self.died = False
        back = [one for one in self.said.values() if one.over == "died" and self.now < one.not_after]
        past = {one.key.kind for one in back if one.due_at <= self.now}
        for one in back:
            if one.key.kind != INVITATION or REMINDER not in past:
                one.over, one.due_at, one.is_back = "", max(one.due_at, self.now), True

    def may(self, one: Said) -> bool:
        """Whether it may go out now."""
        free = not self.died and one.purpose not in self.refused
        return free and not one.over and not one.sent and one.due_at <= self.now < one.not_after

    def must(self, one: Said) -> bool:
        """Nothing may hold it back."""
        return self.may(one) and one.key.kind in AT_ONCE

    def is_too_late(self, one: Said) -> bool:
        """Its time is over, or no hour or day on which it may go out is left before that."""
        left = one.not_after - self.now
        # At most three a week: what waits for its turn may wait for days.
        return left <= timedelta(0) or (
            one.key.kind not in AT_ONCE and left < (12 * HOUR if one.key.kind == CHECK else 8 * DAY)
        )

    def _tell(self, visit: Visit, kind: str) -> None:
        key = Key("booking", visit.pk, kind, visit.version)
        self.plan(key, self.now, max(visit.starts_at, self.now + HOUR))

    def _remind(self, visit: Visit) -> None:
        at = visit.starts_at.astimezone(LONDON)
        for kind, (days, until, booked_before) in REMINDERS.items():
            due_at = wall(at.date() - days * DAY, at.time())
            if self.now + booked_before <= due_at < visit.starts_at - until:
                self.plan(Key("booking", visit.pk, kind, visit.version), due_at, visit.starts_at - until)


def wall(on: date, at: time) -> datetime:
    return datetime.combine(on, at, tzinfo=LONDON).astimezone(ZoneInfo("UTC"))
