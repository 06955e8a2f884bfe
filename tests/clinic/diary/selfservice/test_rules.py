"""What the link of a visit offers, at every notice and as the practice has set it."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from clinic.diary.selfservice.rules import Offer, VisitFacts, narrowed, offered

START = datetime(2026, 3, 4, 9, tzinfo=UTC)
DAY, SECOND = timedelta(hours=24), timedelta(seconds=1)
BOOKED = VisitFacts(
    starts_at=START,
    is_booked=True,
    is_pencilled=False,
    is_accepted=False,
    may_move=True,
    notice_hours=24,
    takes_late=True,
)


def test_with_enough_notice_everything_is_offered() -> None:
    assert offered(BOOKED, now=START - DAY) == Offer(keep=True, move=True, cancel=True)


def test_with_short_notice_another_time_is_a_matter_for_the_telephone() -> None:
    short = START - DAY + SECOND
    assert offered(BOOKED, now=short) == Offer(keep=True, cancel=True, is_short=True)
    assert offered(replace(BOOKED, takes_late=False), now=short) == Offer(keep=True, is_short=True)


def test_a_practice_that_asks_for_no_notice() -> None:
    at_once = replace(BOOKED, notice_hours=0, takes_late=False)
    assert offered(at_once, now=START - SECOND) == Offer(keep=True, move=True, cancel=True)


def test_what_was_said_is_not_asked_again() -> None:
    assert offered(replace(BOOKED, is_accepted=True), now=START - DAY) == Offer(move=True, cancel=True)


def test_a_kind_of_visit_that_only_the_practice_moves() -> None:
    assert offered(replace(BOOKED, may_move=False), now=START - DAY) == Offer(keep=True, cancel=True)


def test_a_pencilled_time_is_given_back_at_any_moment() -> None:
    pencilled = replace(BOOKED, is_booked=False, is_pencilled=True, takes_late=False)
    for now in (START - DAY, START - SECOND):
        assert offered(pencilled, now=now) == Offer(cancel=True)


@pytest.mark.parametrize("visit", [BOOKED, replace(BOOKED, is_booked=False, is_pencilled=True)])
def test_from_its_start_on_nothing(visit: VisitFacts) -> None:
    assert not offered(visit, now=START).anything


def test_a_visit_that_is_neither_booked_nor_pencilled() -> None:
    assert offered(replace(BOOKED, is_booked=False), now=START - DAY) == Offer()


def test_the_narrower_of_the_practice_and_the_visit() -> None:
    first, last = START, START + timedelta(days=60)
    for earliest_at, latest_at in ((None, None), (first - DAY, last + DAY)):
        assert narrowed((first, last), earliest_at=earliest_at, latest_at=latest_at) == (first, last)
    inside = (first + DAY, last - DAY)
    assert narrowed((first, last), earliest_at=inside[0], latest_at=inside[1]) == inside
