"""A hundred thousand cases, over every zone there is and ten years: each due moment exists, and they follow in order.

The oracle goes by the clock itself: a moment is read off on the wall and has to show what was asked for.
"""

import calendar
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest

from clinic.diary.reminding import Remind, reminders
from clinic.messages.timing import Hours, allowed_from, months_after
from whitening.recall import timing

CASES = 100_000
HOURS = Hours(8, 20)
FIRST, DAYS = datetime(2026, 1, 1, tzinfo=UTC), 11 * 365
ZONES = [ZoneInfo(name) for name in sorted(available_timezones())]
TEN = time(10)
# Evenings, nights and the hours in which clocks change come up as often as the working day.
AWKWARD = (time(0, 0), time(0, 30), time(1, 59), time(2, 30), time(3, 0), time(17, 30), time(23, 30), time(23, 59))


@dataclass(frozen=True, slots=True)
class Case:
    """A session that ended then, and a visit that was booked on that day for some weeks later."""

    zone: ZoneInfo
    closed_at: datetime
    visit_at: datetime

    @property
    def day(self) -> date:
        return self.closed_at.astimezone(self.zone).date()


def cases(count: int) -> Iterator[Case]:
    """Every zone in turn; every other moment lies on an awkward time of the wall clock."""
    dice = random.Random(20_260_101)  # noqa: S311
    for number in range(count):
        zone = ZONES[number % len(ZONES)]
        closed_at = FIRST + timedelta(minutes=dice.randrange(DAYS * 24 * 60))
        if number % 2:
            wall = datetime.combine(closed_at.date(), dice.choice(AWKWARD), tzinfo=zone)
            closed_at = wall.astimezone(UTC)
        visit_on = closed_at.date() + timedelta(days=dice.randrange(10, 400))
        visit_at = datetime.combine(visit_on, time(dice.randrange(24), dice.choice((0, 30))), tzinfo=zone)
        yield Case(zone, closed_at, visit_at.astimezone(UTC))


def due(case: Case) -> dict[str, datetime]:
    """Everything that follows a session, by name, in the order in which it must come."""
    check, review = timing.two_day_check(case.closed_at, case.zone), timing.review(case.closed_at, case.zone)
    return {
        "call on the next day": timing.next_day_call(case.closed_at, case.zone).due_at,
        "How are you?": check.due_at,
        "asked once more": check.due_at + timing.SECOND_TRY_AFTER,
        "silence becomes a call": check.until_at,
        "invitation to the review": review.due_at,
        "asked again about the review": timing.review_reminder(case.closed_at, case.zone).due_at,
        "review becomes a call": review.until_at,
        "page of the review ends": timing.review_page(case.closed_at, case.zone).until_at,
    }


def shows(at: datetime, case: Case, *, on: date, clock: time) -> bool:
    """The wall shows that time; or, where a clock change leaves it out, the moment as far behind the gap."""
    wall = at.astimezone(case.zone)
    if (wall.date(), wall.time()) == (on, clock):
        return True
    asked = datetime.combine(on, clock, tzinfo=case.zone)
    is_left_out = asked.astimezone(UTC).astimezone(case.zone).replace(tzinfo=None) != asked.replace(tzinfo=None)
    return is_left_out and asked.astimezone(UTC) == at


def is_allowed(at: datetime, zone: ZoneInfo) -> bool:
    return HOURS.from_hour <= at.astimezone(zone).hour < HOURS.until_hour


@pytest.mark.soak
def test_what_follows_a_session(size: Callable[[int], int], note: Callable[..., None]) -> None:
    count = size(CASES)
    for case in cases(count):
        found = due(case)
        moments = list(found.values())
        assert len(set(moments)) == len(moments), case
        assert moments == sorted(moments), case
        assert case.closed_at < moments[0], case
        days = {"call on the next day": 1, "invitation to the review": 21, "asked again about the review": 28}
        for name, number in (days | {"review becomes a call": 35}).items():
            assert shows(found[name], case, on=case.day + timedelta(days=number), clock=TEN), (name, case)
        check = allowed_from(found["How are you?"], zone=case.zone, hours=HOURS)
        assert is_allowed(check, case.zone), case
        # Also when it has to wait for the morning.
        assert timedelta(hours=44) <= check - case.closed_at <= timedelta(hours=60), case
        assert check < found["silence becomes a call"], case
    note(cases=count, zones=len(ZONES))


@pytest.mark.soak
def test_what_comes_before_a_visit(size: Callable[[int], int], note: Callable[..., None]) -> None:
    count = size(CASES)
    for case in cases(count):
        found = reminders(starts_at=case.visit_at, zone=case.zone, hours=HOURS, now=case.closed_at)
        moments = [one.due_at for one in found]
        assert moments == sorted(set(moments)), case
        for one in found:
            assert is_allowed(one.due_at, case.zone), case
            assert case.closed_at < one.due_at < one.not_after < case.visit_at, case
            wall, visit = one.due_at.astimezone(case.zone), case.visit_at.astimezone(case.zone)
            ahead = (visit.date() - wall.date()).days
            # On that day, or on the morning after it where the visit is later than messages go out.
            days = {Remind.WEEK_BEFORE: 7, Remind.TWO_DAYS_BEFORE: 2}[one.kind]
            assert ahead in (days, days - 1), case
    note(cases=count, zones=len(ZONES))


@pytest.mark.soak
def test_months_end_where_they_end(size: Callable[[int], int], note: Callable[..., None]) -> None:
    """Counted from the anchor: 31 January and two months is the last of March, whatever February was."""
    count = size(CASES)
    for number, case in enumerate(cases(count)):
        months = 1 + number % 24
        last_of_month = case.day.replace(day=calendar.monthrange(case.day.year, case.day.month)[1])
        for anchor in (case.day, last_of_month):
            found = months_after(anchor, months)
            year, month = divmod(anchor.year * 12 + anchor.month - 1 + months, 12)
            last = calendar.monthrange(year, month + 1)[1]
            assert found == date(year, month + 1, min(anchor.day, last)), (anchor, months)
            assert months_after(anchor, months + 1) > found
    note(cases=2 * count)
