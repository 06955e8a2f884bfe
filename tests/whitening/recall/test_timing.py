"""When follow-ups are due: over clock changes, in every zone, and by which day something counts."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clinic.diary.engine.working import instant
from whitening.recall import timing
from whitening.recall.timing import Window
from whitening.recall.triage import Urgency

LONDON = ZoneInfo("Europe/London")
ZONES = [ZoneInfo(name) for name in sorted(available_timezones())]
MOMENTS = st.datetimes(datetime(2000, 1, 1), datetime(2040, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001  (bounds)


def wall(at: datetime, zone: ZoneInfo = LONDON) -> str:
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M}"


@pytest.mark.parametrize(
    ("closed", "asked"),
    [
        ("2026-03-03 09:00", "2026-03-05 10:00"),
        # Late in the day ten o'clock would be too early: 44 hours at the least.
        ("2026-03-03 17:30", "2026-03-05 13:30"),
        ("2026-03-03 00:30", "2026-03-05 10:00"),
        # Clocks go forward on 29 March 2026 and back on 25 October: the wall clock is kept.
        ("2026-03-28 11:00", "2026-03-30 10:00"),
        ("2026-10-24 11:00", "2026-10-26 10:00"),
        # 44 hours are real ones: an hour of the wall clock is missing in between.
        ("2026-03-28 17:00", "2026-03-30 14:00"),
        ("2026-10-24 17:00", "2026-10-26 12:00"),
    ],
)
def test_the_check_comes_two_days_later(closed: str, asked: str) -> None:
    closed_at = datetime.fromisoformat(closed).replace(tzinfo=LONDON)
    assert wall(timing.two_day_check(closed_at, LONDON).due_at) == asked


@given(MOMENTS, st.sampled_from(ZONES))
@settings(max_examples=2000)
def test_in_every_zone_the_check_lies_between_44_and_60_hours(closed_at: datetime, zone: ZoneInfo) -> None:
    window = timing.two_day_check(closed_at, zone)
    assert timedelta(hours=44) <= window.due_at - closed_at <= timedelta(hours=60)
    assert window.until_at >= window.due_at


@given(MOMENTS, st.sampled_from(ZONES))
def test_days_are_those_of_the_wall_clock(closed_at: datetime, zone: ZoneInfo) -> None:
    anchor = closed_at.astimezone(zone).date()
    review, page, times = (make(closed_at, zone) for make in (timing.review, timing.review_page, timing.review_times))
    assert review.due_at == instant(anchor + timedelta(days=21), time(10), zone)
    assert review.until_at == instant(anchor + timedelta(days=35), time(10), zone)
    again = timing.review_reminder(closed_at, zone)
    assert again == Window(instant(anchor + timedelta(days=28), time(10), zone), review.until_at)
    assert times.due_at == instant(anchor + timedelta(days=28), time(0), zone)
    assert page.until_at == times.until_at == instant(anchor + timedelta(days=61), time(0), zone)


def test_a_month_over_both_clock_changes() -> None:
    closed_at = datetime(2026, 3, 3, 14, 0, tzinfo=LONDON)
    assert wall(timing.review(closed_at, LONDON).due_at) == "2026-03-24 10:00"
    assert wall(timing.review_times(closed_at, LONDON).due_at) == "2026-03-31 00:00"
    assert wall(timing.review_reminder(closed_at, LONDON).due_at) == "2026-03-31 10:00"
    assert wall(timing.review(closed_at, LONDON).until_at) == "2026-04-07 10:00"
    assert wall(timing.review_page(closed_at, LONDON).until_at) == "2026-05-03 00:00"


@pytest.mark.parametrize(("day", "late"), [(27, False), (28, False), (42, False), (43, True), (60, True)])
def test_a_review_after_day_42_is_late(day: int, late: bool) -> None:
    last_on = date(2026, 3, 3)
    assert timing.review_is_late(last_session_on=last_on, reviewed_on=last_on + timedelta(days=day)) is late


def test_the_next_day_is_the_next_day() -> None:
    window = timing.next_day_call(datetime(2026, 3, 28, 23, 30, tzinfo=LONDON), LONDON)
    assert (wall(window.due_at), wall(window.until_at)) == ("2026-03-29 10:00", "2026-03-29 18:00")


def test_asked_again_two_days_after_the_answer() -> None:
    window = timing.re_ask(datetime(2026, 3, 5, 21, 0, tzinfo=LONDON), LONDON)
    assert (wall(window.due_at), wall(window.until_at)) == ("2026-03-07 10:00", "2026-03-08 10:00")


@pytest.mark.parametrize(
    ("said", "counts"),
    [("2026-03-03 20:00", False), ("2026-03-04 23:59", False), ("2026-03-05 00:01", True), ("2026-03-09 08:00", True)],
)
def test_an_answer_counts_from_the_morning_of_the_check(said: str, counts: bool) -> None:
    due_at = datetime(2026, 3, 5, 10, 0, tzinfo=LONDON)
    said_at = datetime.fromisoformat(said).replace(tzinfo=LONDON)
    assert timing.counts_as_check(due_at=due_at, said_at=said_at, zone=LONDON) is counts


@pytest.mark.parametrize(("at", "number"), [("2026-03-28 23:59", 0), ("2026-03-29 00:00", 1), ("2026-04-04 12:00", 7)])
def test_days_are_numbered_from_the_sessions_own(at: str, number: int) -> None:
    closed_at = datetime(2026, 3, 28, 9, 0, tzinfo=LONDON)
    at_ = datetime.fromisoformat(at).replace(tzinfo=LONDON)
    assert timing.day_number(closed_at=closed_at, at=at_, zone=LONDON) == number


@pytest.mark.parametrize(
    ("urgency", "said", "reads", "due"),
    [
        (Urgency.EMERGENCY, "2026-03-07 23:00", "2026-03-09 08:30", "2026-03-07 23:00"),
        (Urgency.URGENT, "2026-03-05 11:00", "2026-03-05 11:00", "2026-03-05 13:00"),
        # Two hours of people who are there: nobody promises what nobody can keep.
        (Urgency.URGENT, "2026-03-07 23:00", "2026-03-09 08:30", "2026-03-09 10:30"),
        (Urgency.SAME_DAY, "2026-03-05 11:00", "2026-03-05 11:00", "2026-03-05 18:00"),
        (Urgency.SAME_DAY, "2026-03-05 17:00", "2026-03-05 17:00", "2026-03-05 19:00"),
        # Thursday; Friday, Monday and Tuesday are the three days on which they work.
        (Urgency.WITHIN_DAYS, "2026-03-05 11:00", "2026-03-05 11:00", "2026-03-10 11:00"),
    ],
)
def test_by_when_a_person_answers(urgency: Urgency, said: str, reads: str, due: str) -> None:
    said_at, reads_at = (datetime.fromisoformat(one).replace(tzinfo=LONDON) for one in (said, reads))
    due_at = timing.escalation_due(urgency, said_at=said_at, reads_at=reads_at, last_day=date(2026, 3, 10), zone=LONDON)
    assert wall(due_at) == due
