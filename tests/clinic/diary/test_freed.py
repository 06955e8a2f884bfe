"""What a visit's segments do not bind is free for somebody else: the picture of it, and what the engine offers."""

from hypothesis import given
from hypothesis import strategies as st

from clinic.diary.engine import search
from clinic.diary.engine.spans import Span, without
from clinic.diary.engine.visit import SegmentSpec, Shape, joined, shape
from clinic.diary.models import Need
from clinic.diary.standard import SegmentPlan
from clinic.diary.timeline import Bar, timeline

CLEO, WILLOW, ALDER = 1, 2, 3
OPEN: Span = (0, 24 * 60)
STEP = 15


def claimed(made: Shape, need: str, start: int) -> list[Span]:
    return [(start + offset, start + offset + minutes) for offset, minutes in joined(made.parts[need])]


def offered(look_for: Shape, taken: list[Span]) -> set[int]:
    """Starts in the other room with the same clinician."""
    free = {CLEO: without([OPEN], taken), ALDER: [OPEN]}
    candidates = {"clinician": [CLEO], "room": [ALDER]}
    return {one.start for one in search.find(look_for, candidates=candidates, free=free, within=[OPEN], step=STEP)}


minutes = st.integers(1, 90)


@given(before=minutes, cycle=minutes, cycles=st.integers(1, 6), after=minutes, other=minutes, start=st.integers(0, 480))
def test_the_freed_minutes_are_offered(
    before: int, cycle: int, cycles: int, after: int, other: int, start: int
) -> None:
    """Every start on the grid that lies wholly outside what is bound is offered, and no other one."""
    both, room = ("room", "clinician"), ("room",)
    made = shape(
        [SegmentSpec("start", before, both), SegmentSpec("cycle", cycle, room, True), SegmentSpec("end", after, both)],
        cycles=cycles,
    )
    look_for = shape([SegmentSpec("talk", other, both)], cycles=0)
    taken = claimed(made, "clinician", start)
    assert taken == [
        (start, start + before),
        (start + before + cycle * cycles, start + before + cycle * cycles + after),
    ]
    fits = {
        minute
        for minute in range(OPEN[0], OPEN[1] - other + 1, STEP)
        if all(minute + other <= begins or minute >= ends for begins, ends in taken)
    }
    assert offered(look_for, taken) == fits
    # The room stays bound throughout, and with the clinician bound too nothing begins inside.
    assert claimed(made, "room", start) == [(start, start + made.minutes)]
    whole = offered(look_for, claimed(made, "room", start))
    assert whole == {minute for minute in fits if minute + other <= start or minute >= start + made.minutes}


ROOM, ASSISTANT, CLINICIAN = ((need, False) for need in (Need.ROOM, Need.ASSISTANT, Need.CLINICIAN))
SESSION = (
    SegmentPlan("Set-up", 10, (ROOM, ASSISTANT), ""),
    SegmentPlan("Start", 25, (ROOM, ASSISTANT, CLINICIAN), ""),
    SegmentPlan("Cycle", 20, (ROOM, ASSISTANT, (Need.LIGHT_ANY, True)), "", per_cycle=True),
    SegmentPlan("Finish", 15, (ROOM, CLINICIAN), ""),
)


def test_the_picture() -> None:
    drawn = timeline(SESSION)
    assert (drawn.minutes, drawn.cycles) == (130, 4)
    assert drawn.parts == (Bar(0, 10, "Set-up"), Bar(10, 25, "Start"), Bar(35, 80, "Cycle"), Bar(115, 15, "Finish"))
    lanes = [(lane.need, [(bar.start, bar.end) for bar in lane.bars], lane.bound, lane.between) for lane in drawn.lanes]
    assert lanes == [
        (Need.ROOM, [(0, 130)], 130, 0),
        (Need.CLINICIAN, [(10, 35), (115, 130)], 40, 80),
        (Need.ASSISTANT, [(0, 115)], 115, 0),
        (Need.LIGHT_ANY, [(35, 115)], 80, 0),
    ]
    one = timeline(SESSION[:1])
    assert (one.minutes, one.cycles, len(one.lanes)) == (10, 0, 2)
