"""What fits when a patient is late, and how late a day runs: tables, and a model that tries every minute."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary.engine.late import Bound, Fits, delayed, lead, which_fit
from clinic.diary.engine.lateness import Held, delays
from clinic.diary.engine.spans import Span, merged
from clinic.diary.engine.visit import SegmentSpec, Shape, shape

ROOM, CLINICIAN = 1, 2
CANDIDATES = {"room": [ROOM], "clinician": [CLINICIAN]}
SEGMENTS = (
    SegmentSpec("set-up", 10, ("room",)),
    SegmentSpec("start", 20, ("room", "clinician")),
    SegmentSpec("cycle", 20, ("room",), per_cycle=True),
    SegmentSpec("finish", 10, ("room", "clinician")),
    SegmentSpec("turn-round", 10, ("room",)),
)


def late(cycles: int, minutes: int) -> Shape:
    return delayed(shape(SEGMENTS, cycles=cycles), minutes, seated=("clinician",), staying=("room",))


def shapes(cycles: int, minutes: int) -> dict[int, Shape]:
    return {count: late(count, minutes) for count in range(1, cycles + 1)}


def test_what_is_prepared_stays_and_the_room_is_kept() -> None:
    whole = shape(SEGMENTS, cycles=2)
    assert lead(whole, seated=("clinician",)) == 10
    assert lead(whole, seated=("nobody",)) == 0
    assert late(2, 0) == whole
    moved = late(2, 15)
    assert moved.minutes == whole.minutes + 15
    assert [(one.offset, one.minutes) for one in moved.parts["room"]] == [
        (0, 25),
        (25, 20),
        (45, 40),
        (85, 10),
        (95, 10),
    ]
    assert [(one.offset, one.minutes) for one in moved.parts["clinician"]] == [(25, 20), (85, 10)]


# Two cycles take 90 minutes, so a visit of 0 that begins 20 minutes late ends at 110; each cycle is 20 more.
@pytest.mark.parametrize(
    ("room", "clinician", "cycles", "bound"),
    [
        ([(0, 999)], [(0, 999)], (4, 3, 2, 1), None),
        ([(0, 150)], [(0, 999)], (4, 3, 2, 1), None),
        ([(0, 149)], [(0, 999)], (3, 2, 1), Bound("room", ROOM, 149)),
        ([(0, 130)], [(0, 120)], (3, 2, 1), Bound("clinician", CLINICIAN, 120)),
        ([(0, 999)], [(0, 119)], (2, 1), Bound("clinician", CLINICIAN, 119)),
        # The clinician sees somebody else during the cycles: few cycles end too early for that, and many do not.
        ([(0, 999)], [(0, 50), (110, 999)], (4, 3), None),
        ([(0, 60)], [(0, 999)], (), Bound("room", ROOM, 60)),
        ([(0, 999)], [(60, 999)], (), Bound("clinician", CLINICIAN, 30)),
    ],
)
def test_which_fit(room: list[Span], clinician: list[Span], cycles: tuple[int, ...], bound: Bound | None) -> None:
    found = which_fit(shapes(4, 20), start=0, candidates=CANDIDATES, free={ROOM: room, CLINICIAN: clinician})
    assert found == Fits(cycles, bound)


def test_a_visit_without_cycles_fits_as_a_whole_or_not() -> None:
    plain = {0: delayed(shape([SegmentSpec("look", 20, ("room",))], cycles=0), 10, seated=(), staying=())}
    assert which_fit(plain, start=5, candidates=CANDIDATES, free={ROOM: [(0, 35)]}).cycles == (0,)
    assert which_fit(plain, start=5, candidates=CANDIDATES, free={ROOM: [(0, 34)]}) == Fits((), Bound("room", ROOM, 34))
    # Whoever can be exchanged stands in nobody's way alone.
    either = {"room": [ROOM, 3]}
    assert which_fit(plain, start=5, candidates=either, free={ROOM: [(0, 9)], 3: [(0, 9)]}) == Fits((), None)


free_spans = st.lists(st.tuples(st.integers(0, 200), st.integers(1, 120)), max_size=3).map(
    lambda some: [(start, start + length) for start, length in some]
)


@given(st.integers(0, 40), free_spans, free_spans)
def test_against_every_single_minute(minutes: int, room: list[Span], clinician: list[Span]) -> None:
    there = {"room": merged(room), "clinician": merged(clinician)}
    held = {need: {minute for start, end in some for minute in range(start, end)} for need, some in there.items()}
    free = {ROOM: there["room"], CLINICIAN: there["clinician"]}
    found = which_fit(shapes(4, minutes), start=0, candidates=CANDIDATES, free=free)

    def needed(count: int, need: str) -> set[int]:
        """Told again in other words: preparing ends at 10, then everybody waits, then the visit goes on."""
        seat, cycles = 10 + minutes, 20 * count
        if need == "room":
            return set(range(seat + 20 + cycles + 20))
        return set(range(seat, seat + 20)) | set(range(seat + 20 + cycles, seat + 30 + cycles))

    fits = [n for n in range(4, 0, -1) if all(needed(n, need) <= held[need] for need in there)]
    assert list(found.cycles) == fits
    if found.bound is not None:
        more = fits[0] + 1 if fits else 1
        missing = needed(more, found.bound.need) - held[found.bound.need]
        assert found.bound.until not in held[found.bound.need]
        assert found.bound.until <= max(missing)
    else:
        assert fits[:1] == [4]


@pytest.mark.parametrize(
    ("least", "expected"),
    [
        ({1: 0, 2: 0, 3: 0}, {1: 0, 2: 0, 3: 0}),
        ({1: 20, 2: 0, 3: 0}, {1: 20, 2: 20, 3: 5}),
        ({1: 10, 2: 0, 3: 0}, {1: 10, 2: 10, 3: 0}),
        # Over: it pushes nobody any more.
        ({2: 0, 3: 0}, {2: 0, 3: 0}),
        ({1: 0, 2: 30, 3: 0}, {1: 0, 2: 30, 3: 15}),
    ],
)
def test_who_is_late_pushes_the_next(least: dict[int, int], expected: dict[int, int]) -> None:
    # Two visits meet at 60; the third has the same clinician a quarter of an hour after the second.
    held = [Held(1, ROOM, 0, 60), Held(2, ROOM, 60, 100), Held(2, CLINICIAN, 60, 100), Held(3, CLINICIAN, 115, 140)]
    assert delays(held, least=least) == expected


def test_interlaced_visits_push_each_other_and_it_ends() -> None:
    # During the cycles of the first the clinician sees the second, without a minute between.
    held = [
        Held(1, CLINICIAN, 0, 20),
        Held(2, CLINICIAN, 20, 40),
        Held(1, CLINICIAN, 40, 50),
        Held(3, CLINICIAN, 55, 60),
    ]
    assert delays(held, least={1: 0, 2: 10, 3: 0}) == {1: 10, 2: 10, 3: 5}
    assert delays(held, least={1: 10, 2: 0, 3: 0}) == {1: 10, 2: 10, 3: 5}


@st.composite
def days(draw: st.DrawFn) -> tuple[list[Held], dict[int, int]]:
    """Claims of up to six visits that never overlap at one resource, as the database keeps them."""
    held: list[Held] = []
    for resource in (1, 2, 3):
        at = 0
        for visit in draw(st.lists(st.integers(1, 6), max_size=6)):
            at += draw(st.integers(0, 15))
            length = draw(st.integers(1, 30))
            held.append(Held(visit, resource, at, at + length))
            at += length
    return held, {visit: draw(st.integers(0, 40)) for visit in range(1, 7)}


@given(days())
def test_nothing_overlaps_and_nobody_waits_without_need(day: tuple[list[Held], dict[int, int]]) -> None:
    held, least = day
    late = delays(held, least=least)
    assert all(late[visit] >= minutes for visit, minutes in least.items())
    by_resource: dict[int, list[Held]] = {}
    for one in sorted(held, key=lambda each: each.start):
        by_resource.setdefault(one.resource, []).append(one)
    pushed = set()
    for some in by_resource.values():
        for before, after in pairwise(some):
            ends, begins = before.end + late[before.visit], after.start + late[after.visit]
            assert before.visit == after.visit or ends <= begins
            if before.visit != after.visit and ends == begins:
                pushed.add(after.visit)
    # Later than it is by itself only where something in front of it ends at that very minute.
    assert {visit for visit in late if late[visit] > least[visit]} <= pushed
