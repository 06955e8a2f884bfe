"""Who is offered what, and how long there is to answer: against every possible way in small worlds."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary.waitlist.rules import (
    MOST,
    Fits,
    Person,
    answer_by,
    assign,
    earliest_start,
    nearest,
    waited,
)

NOW = datetime(2026, 3, 3, 9, tzinfo=UTC)
TODAY = NOW.date()
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)


@pytest.mark.parametrize(
    ("ahead", "minutes"),
    [
        (48 * HOUR, 30),
        (4 * HOUR + MINUTE, 30),
        (4 * HOUR, 10),
        (20 * MINUTE, 10),
        # Nobody answers about a time that has begun.
        (7 * MINUTE, 7),
    ],
)
def test_how_long_there_is_to_answer(ahead: timedelta, minutes: int) -> None:
    assert answer_by(now=NOW, starts_at=NOW + ahead) == NOW + minutes * MINUTE


@pytest.mark.parametrize(("notice", "first"), [(timedelta(), 10 * MINUTE), (3 * MINUTE, 10 * MINUTE), (HOUR, HOUR)])
def test_how_soon_a_time_may_begin(notice: timedelta, first: timedelta) -> None:
    assert earliest_start(now=NOW, notice=notice) == NOW + first


@pytest.mark.parametrize(
    ("starts", "gap", "start"),
    [
        ([], (600, 640), None),
        ([600, 615], (600, 640), 600),
        ([585, 615], (600, 640), 585),
        ([570, 615], (600, 640), 615),
    ],
)
def test_the_start_that_wastes_least(starts: list[int], gap: tuple[int, int], start: int | None) -> None:
    assert nearest(starts, gap) == start


def person(wish: int, days: int) -> Person:
    return Person(TODAY - timedelta(days=days), wish)


TABLE: list[tuple[str, dict[int, int], int, Fits, list[tuple[int, int]]]] = [
    # What it shows, days waited by wish, number of times, who fits and is clear, who is offered what.
    ("nobody waits", {}, 2, {}, []),
    ("nobody fits", {1: 5}, 2, {}, []),
    ("longest first", {1: 5, 2: 9}, 1, {(1, 0): True, (2, 0): True}, [(2, 0)]),
    ("clear before longest", {1: 5, 2: 9}, 1, {(1, 0): True, (2, 0): False}, [(1, 0)]),
    ("not clear is offered too", {1: 5}, 1, {(1, 0): False}, [(1, 0)]),
    ("of one day, first entered", {1: 5, 2: 5}, 1, {(1, 0): True, (2, 0): True}, [(1, 0)]),
    (
        "the earlier time to whoever waits longer",
        {1: 5, 2: 9},
        2,
        dict.fromkeys([(1, 0), (1, 1), (2, 0), (2, 1)], True),
        [(2, 0), (1, 1)],
    ),
    # Alone, the first time would go to 2 and the second to nobody.
    ("both times are used", {1: 5, 2: 9}, 2, {(1, 0): True, (2, 0): True, (2, 1): True}, [(1, 0), (2, 1)]),
    ("used before clear", {1: 5, 2: 9}, 2, {(1, 0): False, (2, 0): True, (2, 1): False}, [(1, 0), (2, 1)]),
    ("one person, one time", {1: 5}, 3, {(1, 1): True, (1, 2): True}, [(1, 1)]),
    ("clear at the later time", {1: 5}, 2, {(1, 0): False, (1, 1): True}, [(1, 1)]),
    ("longer than counted", {1: 9000, 2: 4000}, 1, {(1, 0): True, (2, 0): True}, [(1, 0)]),
]


@pytest.mark.parametrize(("_shows", "days", "times", "fits", "offered"), TABLE, ids=[row[0] for row in TABLE])
def test_who_is_offered_what(
    _shows: str, days: dict[int, int], times: int, fits: Fits, offered: list[tuple[int, int]]
) -> None:
    people = [person(wish, waited) for wish, waited in days.items()]
    assert assign(people, times, fits, today=TODAY) == offered


@st.composite
def worlds(draw: st.DrawFn) -> tuple[list[Person], int, dict[tuple[int, int], bool]]:
    """Few people, few times, and waiting times that are often the same."""
    people = [person(wish, draw(st.integers(0, 4) | st.just(400))) for wish in range(draw(st.integers(0, 4)))]
    times = draw(st.integers(0, 4))
    pairs = [(one.wish, time) for one in people for time in range(times)]
    fits = {pair: clear for pair in pairs if (clear := draw(st.sampled_from([None, False, True]))) is not None}
    return draw(st.permutations(people)), times, fits


def every_way(people: list[Person], times: int, fits: Fits) -> Iterator[list[tuple[Person, int]]]:
    """Each way to give times to people, with those left out that do not fit."""
    slots = [*range(times), *([-1] * len(people))]
    for chosen in set(permutations(slots, len(people))):
        yield [(one, time) for one, time in zip(people, chosen, strict=True) if (one.wish, time) in fits]


def worth(pairs: list[tuple[Person, int]], fits: Fits) -> tuple[int, int, int]:
    """As the rule is told to people: how many offers, how many of them clear, how long these have waited."""
    clear = sum(fits[one.wish, time] for one, time in pairs)
    return len(pairs), clear, sum(waited(one, TODAY) for one, _time in pairs)


@given(worlds())
def test_no_other_way_is_better(world: tuple[list[Person], int, dict[tuple[int, int], bool]]) -> None:
    people, times, fits = world
    by_wish = {one.wish: one for one in people}
    found = [(by_wish[wish], time) for wish, time in assign(people, times, fits, today=TODAY)]
    assert len({one.wish for one, _time in found}) == len({time for _one, time in found}) == len(found)
    assert worth(found, fits) == max(worth(way, fits) for way in every_way(people, times, fits))


@given(worlds())
def test_the_order_in_which_they_are_given_changes_nothing(
    world: tuple[list[Person], int, dict[tuple[int, int], bool]],
) -> None:
    people, times, fits = world
    other = dict(sorted(fits.items(), reverse=True))
    assert assign(people, times, fits, today=TODAY) == assign(sorted(people), times, other, today=TODAY)


def test_a_full_house_is_settled_exactly() -> None:
    """As many as one round takes: whoever waits longest among equals is served, the earlier time first."""
    people = [person(wish, days=wish % 7) for wish in range(MOST + 20)]
    fits = {(one.wish, time): True for one in people for time in range(MOST)}
    offered = assign(people, MOST, fits, today=TODAY)
    assert [wish for wish, _time in offered] == [one.wish for one in sorted(people)[:MOST]]
    assert [time for _wish, time in offered] == list(range(MOST))


def test_a_person_is_ordered_by_the_day_and_then_by_the_entry() -> None:
    third, second = date(2026, 2, 3), date(2026, 2, 2)
    assert sorted([Person(third, 8), Person(second, 9), Person(third, 2)]) == [
        Person(second, 9),
        Person(third, 2),
        Person(third, 8),
    ]
