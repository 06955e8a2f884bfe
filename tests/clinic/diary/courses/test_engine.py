"""Courses against a model that tries every day of every visit."""

import itertools
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary.engine.course import Chosen, Days, Gap, InTheWay, Place, earliest, in_the_way, proposals

END = 14


def open_on(days: frozenset[int]) -> Days:
    return lambda first, last: [day for day in sorted(days) if first <= day <= last]


@st.composite
def worlds(draw: st.DrawFn) -> tuple[list[Place], list[Gap]]:
    count = draw(st.integers(1, 4))
    some = st.frozensets(st.integers(0, END), max_size=8)
    bounds = st.tuples(st.integers(0, 4), st.integers(END - 4, END))
    places = [Place(open_on(draw(some)), *draw(bounds)) for _number in range(count)]
    pairs = list(itertools.combinations(range(count), 2))
    wanted = draw(st.lists(st.sampled_from(pairs), max_size=4)) if pairs else []
    least, over = st.integers(0, 5), st.none() | st.integers(0, 5)
    return places, [_gap(*pair, draw(least), draw(over)) for pair in wanted]


def _gap(before: int, after: int, least: int, over: int | None) -> Gap:
    return Gap(before, after, least, None if over is None else least + over)


def every(places: Sequence[Place], gaps: Sequence[Gap]) -> list[Chosen]:
    """All courses there are, the earliest first."""
    days = [list(place.days(place.first, place.last)) for place in places]
    return [chosen for chosen in sorted(itertools.product(*days)) if holds(chosen, gaps)]


def holds(chosen: Chosen, gaps: Sequence[Gap]) -> bool:
    return all(left < right for left, right in itertools.pairwise(chosen)) and all(
        gap.least <= chosen[gap.after] - chosen[gap.before] <= (END if gap.most is None else gap.most)
        for gap in gaps
        if gap.after < len(chosen)
    )


@given(worlds())
def test_the_earliest_is_the_first_of_all_there_are(world: tuple[list[Place], list[Gap]]) -> None:
    assert earliest(*world) == next(iter(every(*world)), None)


@given(worlds(), st.integers(1, 4))
def test_each_proposal_is_the_earliest_of_those_that_are_left(world: tuple[list[Place], list[Gap]], most: int) -> None:
    left, expected = every(*world), []
    best = left[0] if left else ()
    for number in range(len(best)):
        left = [one for one in left if one[:number] == best[:number]]
        days = sorted({one[number] for one in left if one[number] > best[number]})
        expected += [next(one for one in left if one[number] == day) for day in days]
    assert proposals(*world, most=most) == ([best, *expected][:most] if best else [])


@given(worlds())
def test_who_is_in_the_way_is_the_first_that_cannot_follow(world: tuple[list[Place], list[Gap]]) -> None:
    places, gaps = world
    reach = [number for number in range(len(places)) if every(places[: number + 1], gaps)]
    found = in_the_way(places, gaps)
    assert (found.place if found else None) == (len(reach) if len(reach) < len(places) else None)


def test_a_course_as_it_is_lived() -> None:
    """Cleaning on day 1, sessions a week apart, the review 28 to 42 days after the last of them."""
    weekdays = frozenset(day for day in range(120) if day % 7 < 5)
    places = [Place(open_on(weekdays), 1, 119) for _number in range(4)]
    gaps = [Gap(0, 1, 7, 180), Gap(0, 2, 7, 180), Gap(1, 2, 7), Gap(2, 3, 28, 42)]
    assert proposals(places, gaps, most=3) == [(1, 8, 15, 43), (2, 9, 16, 44), (3, 10, 17, 45)]


def test_one_first_day_only_and_the_second_visit_gives_the_choice() -> None:
    places = [Place(open_on(frozenset({3})), 0, END), Place(open_on(frozenset({4, 9, 12})), 0, END)]
    assert proposals(places, [Gap(0, 1, 2)], most=3) == [(3, 9), (3, 12)]


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        (({2}, {3, 13}), InTheWay(1, 5, 7)),
        # Of several first days, the days that all of them together leave open.
        (({2, 4}, {1, 13}), InTheWay(1, 5, 9)),
        ((set(), {3}), InTheWay(0, 0, END)),
        (({2}, {6}), None),
    ],
)
def test_the_days_that_were_looked_at(days: tuple[set[int], set[int]], expected: InTheWay | None) -> None:
    places = [Place(open_on(frozenset(some)), 0, END) for some in days]
    assert in_the_way(places, [Gap(0, 1, 3, 5)]) == expected


def test_no_day_is_asked_for_that_the_course_does_not_reach() -> None:
    """A diary is read no further than it must be."""
    asked: list[tuple[int, int]] = []

    def days(first: int, last: int) -> list[int]:
        asked.append((first, last))
        return list(range(first, last + 1))

    places = [Place(days, 0, 90), Place(days, 0, 200)]
    assert earliest(places, [Gap(0, 1, 28, 42)]) == (0, 28)
    assert asked == [(0, 90), (28, 42)]
    assert earliest([places[0], replace(places[1], last=20)], [Gap(0, 1, 28, 42)]) is None
