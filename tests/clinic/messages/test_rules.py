"""Which channel, how long to wait, how many a week: the pure decisions."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.messages.rules import MOST_A_WEEK, Reach, back_off, capped_until, channel_for, next_open_day
from clinic.messages.timing import Hours

LONDON = ZoneInfo("Europe/London")
NOW = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


def reach(**values: object) -> Reach:
    given_values: dict[str, object] = {
        "preferred": "email",
        "email": "a@example.org",
        "email_bounced": False,
        "phone_takes_texts": True,
        "texts_on": True,
        "tried": frozenset[str](),
    }
    return Reach(**given_values | values)  # type: ignore[arg-type]  # a table of mixed values


@pytest.mark.parametrize(
    ("values", "channel"),
    [
        ({}, "email"),
        ({"preferred": "text"}, "text"),
        ({"email": ""}, "text"),
        ({"email_bounced": True}, "text"),
        ({"tried": frozenset({"email"})}, "text"),
        ({"preferred": "text", "texts_on": False}, "email"),
        ({"preferred": "text", "phone_takes_texts": False}, "email"),
        ({"tried": frozenset({"email", "text"})}, ""),
        ({"email": "", "texts_on": False}, ""),
        ({"preferred": "phone"}, ""),
        ({"preferred": "letter"}, ""),
    ],
)
def test_channel(values: dict[str, object], channel: str) -> None:
    assert channel_for(reach(**values)) == channel


@pytest.mark.parametrize(("attempt", "minutes"), [(0, 1), (1, 1), (2, 2), (3, 4), (6, 30), (60, 30)])
def test_back_off(attempt: int, minutes: int) -> None:
    assert back_off(attempt) == timedelta(minutes=minutes)


@pytest.mark.parametrize(
    ("days_ago", "waits"),
    [
        ([], None),
        ([1], None),
        ([0], 1),
        ([1, 2], None),
        ([1, 2, 3], 4),
        ([0, 5, 6], 1),
        ([7, 8, 9], None),
        ([0, 1, 2], 5),
    ],
)
def test_one_a_day_three_a_week(days_ago: list[int], waits: int | None) -> None:
    until = capped_until(sent_at=[NOW - timedelta(days=days) for days in days_ago], now=NOW, zone=LONDON)
    assert until == (None if waits is None else NOW + timedelta(days=waits))


def test_a_day_is_the_sites_day_and_not_24_hours() -> None:
    late = datetime(2026, 3, 2, 19, 30, tzinfo=UTC)
    assert capped_until(sent_at=[late], now=datetime(2026, 3, 3, 8, 0, tzinfo=UTC), zone=LONDON) is None


@given(st.lists(st.integers(0, 8), max_size=12), st.sampled_from(["Europe/London", "Pacific/Apia", "Asia/Kathmandu"]))
def test_whatever_was_sent_there_is_room_within_a_week(days_ago: list[int], zone: str) -> None:
    place = ZoneInfo(zone)
    sent = [NOW - timedelta(days=days) for days in days_ago]
    until = capped_until(sent_at=sent, now=NOW, zone=place) or NOW
    assert NOW <= until <= NOW + timedelta(days=7)
    day = until.astimezone(place).date()
    week = [at for at in sent if day - timedelta(days=7) < at.astimezone(place).date() <= day]
    assert len(week) < MOST_A_WEEK
    assert all(at.astimezone(place).date() != day for at in sent)


def test_closed_days_are_passed_over() -> None:
    closed = frozenset({date(2026, 4, 3), date(2026, 4, 4)})
    friday = datetime(2026, 4, 3, 9, 0, tzinfo=UTC)
    moved = next_open_day(friday, closed_days=closed, zone=LONDON, hours=Hours(8, 20))
    assert moved == datetime(2026, 4, 5, 9, 0, tzinfo=UTC)
    assert next_open_day(NOW, closed_days=closed, zone=LONDON, hours=Hours(8, 20)) == NOW
