"""Finding a time, against a model that tries every minute and every combination."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary.engine.search import Opening, find, first_starts
from clinic.diary.engine.spans import Span, common, grid, merged, starts_that_fit, without
from clinic.diary.engine.visit import SegmentSpec, Shape, Stretch, joined, shape

END = 60
spans = st.lists(st.tuples(st.integers(0, END), st.integers(0, END)), max_size=6)


def minutes(some: list[Span]) -> set[int]:
    return {minute for start, end in some for minute in range(start, end)}


@given(spans)
def test_merged_is_the_same_minutes_in_few_pieces(some: list[Span]) -> None:
    pieces = merged(some)
    assert minutes(pieces) == minutes(some)
    assert all(start < end for start, end in pieces)
    assert all(left[1] < right[0] for left, right in itertools.pairwise(pieces))


@given(spans, spans)
def test_without(some: list[Span], taken: list[Span]) -> None:
    rest = without(some, taken)
    assert minutes(rest) == minutes(some) - minutes(taken)
    assert rest == merged(rest)


@given(spans, spans)
def test_common(left: list[Span], right: list[Span]) -> None:
    both = common(merged(left), merged(right))
    assert minutes(both) == minutes(left) & minutes(right)


@given(spans, st.integers(0, 20), st.integers(1, 20))
def test_starts_that_fit(free: list[Span], offset: int, length: int) -> None:
    pieces = merged(free)
    found = minutes(starts_that_fit(pieces, offset, length))
    fits = {
        start
        for start in range(-END, END)
        if any(a <= start + offset and start + offset + length <= b for a, b in pieces)
    }
    assert found == fits


@given(spans, st.integers(1, 15))
def test_grid(some: list[Span], step: int) -> None:
    pieces = merged(some)
    assert list(grid(pieces, step)) == [minute for minute in sorted(minutes(pieces)) if minute % step == 0]


def test_a_visit_is_laid_end_to_end() -> None:
    """Set-up 10 min, three cycles of 20 min, finish 15 min: 85 min, the room all through."""
    specs = [
        SegmentSpec("Set-up", 10, ("room",)),
        SegmentSpec("Cycle", 20, ("room", "clinician"), per_cycle=True),
        SegmentSpec("Finish", 15, ("room", "clinician")),
    ]
    made = shape(specs, cycles=3)
    assert made.minutes == 85
    assert made.parts["clinician"] == (Stretch("Cycle", 10, 60), Stretch("Finish", 70, 15))
    assert joined(made.parts["room"]) == [(0, 85)]
    assert joined(made.parts["clinician"]) == [(10, 75)]


def test_no_cycle_takes_no_time() -> None:
    made = shape([SegmentSpec("Cycle", 20, ("room",), per_cycle=True)], cycles=0)
    assert (made.minutes, made.parts) == (0, {})


def test_what_is_left_and_come_back_to_stays_two_pieces() -> None:
    specs = [SegmentSpec("A", 5, ("room", "x")), SegmentSpec("B", 5, ("room",)), SegmentSpec("C", 5, ("room", "x"))]
    assert joined(shape(specs, cycles=0).parts["x"]) == [(0, 5), (10, 5)]


@st.composite
def practices(draw: st.DrawFn) -> tuple[Shape, dict[str, list[int]], dict[int, list[Span]]]:
    needs = draw(st.lists(st.sampled_from("abc"), min_size=1, max_size=3, unique=True))
    specs = draw(
        st.lists(
            st.builds(
                SegmentSpec,
                st.just("s"),
                st.integers(1, 8),
                st.lists(st.sampled_from(needs), unique=True, max_size=3).map(tuple),
            ),
            min_size=1,
            max_size=3,
        )
    )
    people = st.lists(st.integers(1, 4), unique=True, max_size=3)
    return (
        shape(specs, cycles=1),
        {need: draw(people) for need in needs},
        {one: merged(draw(spans)) for one in range(1, 5)},
    )


def works(made: Shape, free: dict[int, list[Span]], start: int, chosen: tuple[int, ...], needs: list[str]) -> bool:
    """Everybody is another, and free in every minute of every stretch that claims them."""
    return len(set(chosen)) == len(chosen) and all(
        set(range(start + part.offset, start + part.offset + part.minutes)) <= minutes(free[one])
        for need, one in zip(needs, chosen, strict=True)
        for part in made.parts[need]
    )


@given(practices(), st.integers(1, 5))
def test_the_search_finds_what_trying_everything_finds(
    practice: tuple[Shape, dict[str, list[int]], dict[int, list[Span]]], step: int
) -> None:
    made, candidates, free = practice
    needs = list(made.parts)
    found = list(find(made, candidates=candidates, free=free, within=[(0, END)], step=step))
    possible = [
        start
        for start in range(0, END, step)
        if any(
            works(made, free, start, chosen, needs)
            for chosen in itertools.product(*(candidates[need] for need in needs))
        )
    ]
    assert [one.start for one in found] == possible
    for one in found:
        chosen = dict(one.chosen)
        assert works(made, free, one.start, tuple(chosen[need] for need in needs), needs)
        assert one.minutes == made.minutes


@given(practices())
def test_the_first_start_of_each_need_alone(
    practice: tuple[Shape, dict[str, list[int]], dict[int, list[Span]]],
) -> None:
    made, candidates, free = practice
    first = first_starts(made, candidates=candidates, free=free, within=[(0, END)])
    for need in made.parts:
        alone = (
            start
            for start in range(END)
            for one in candidates[need]
            if works(Shape(made.minutes, {need: made.parts[need]}), free, start, (one,), [need])
        )
        assert first[need] == next(alone, None)


@pytest.mark.parametrize(("order", "first"), [([1, 2], 1), ([2, 1], 2)])
def test_candidates_are_taken_in_the_order_given(order: list[int], first: int) -> None:
    made = shape([SegmentSpec("s", 10, ("room",))], cycles=0)
    free = {1: [(0, 60)], 2: [(0, 60)]}
    assert next(find(made, candidates={"room": order}, free=free, within=[(0, 60)])) == Opening(
        0, 10, (("room", first),)
    )


def test_one_person_never_serves_two_needs() -> None:
    made = shape([SegmentSpec("s", 10, ("clinician", "assistant"))], cycles=0)
    alone: dict[str, list[int]] = {"clinician": [1], "assistant": [1]}
    assert list(find(made, candidates=alone, free={1: [(0, 60)]}, within=[(0, 60)])) == []
    pair: dict[str, list[int]] = {"clinician": [1, 2], "assistant": [1]}
    found = next(find(made, candidates=pair, free={1: [(0, 60)], 2: [(0, 60)]}, within=[(0, 60)]))
    assert dict(found.chosen) == {"clinician": 2, "assistant": 1}
