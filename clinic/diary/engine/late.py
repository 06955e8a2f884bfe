"""A visit that begins late: what then still fits before whatever follows it. Pure arithmetic over its shape.

What the practice does before the patient sits down is done by then, so only what comes after it moves.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from clinic.diary.engine.search import find
from clinic.diary.engine.spans import Span
from clinic.diary.engine.visit import Shape, Stretch, joined


@dataclass(frozen=True, slots=True)
class Bound:
    """What stands in the way: this candidate of this need is there until that minute only."""

    need: str
    candidate: int
    until: int


@dataclass(frozen=True, slots=True)
class Fits:
    """Numbers of cycles that fit, the most first; and what keeps the next number out."""

    cycles: tuple[int, ...]
    bound: Bound | None


def lead(shape: Shape, *, seated: Collection[str]) -> int:
    """Minutes before the first of these needs: by then the patient has to sit."""
    return min((shape.parts[need][0].offset for need in seated if need in shape.parts), default=0)


def delayed(shape: Shape, minutes: int, *, seated: Collection[str], staying: Collection[str]) -> Shape:
    """The same visit with the patient seated so many minutes later. What is staying (the room) is kept meanwhile."""
    if minutes == 0:
        return shape
    before = lead(shape, seated=seated)
    parts = {
        need: tuple(_later(one, minutes, before, stays=need in staying) for one in stretches)
        for need, stretches in shape.parts.items()
    }
    return Shape(shape.minutes + minutes, parts)


def _later(one: Stretch, minutes: int, before: int, *, stays: bool) -> Stretch:
    end = one.offset + one.minutes
    if end > before:
        return Stretch(one.segment, one.offset + minutes, one.minutes)
    return Stretch(one.segment, one.offset, one.minutes + minutes) if stays and end == before else one


def which_fit(
    shapes: Mapping[int, Shape],
    *,
    start: int,
    candidates: Mapping[str, Sequence[int]],
    free: Mapping[int, Sequence[Span]],
) -> Fits:
    """shapes: the visit by its number of cycles; all of them start at that minute."""

    def fits(shape: Shape) -> bool:
        found = find(shape, candidates=candidates, free=free, within=[(start, start + 1)], step=1)
        return next(found, None) is not None

    good = tuple(number for number in sorted(shapes, reverse=True) if fits(shapes[number]))
    more = [number for number in sorted(shapes) if number > (good[0] if good else -1)]
    return Fits(good, _bound(shapes[more[0]], start, candidates, free) if more else None)


def _bound(
    shape: Shape, start: int, candidates: Mapping[str, Sequence[int]], free: Mapping[int, Sequence[Span]]
) -> Bound | None:
    """The earliest end among what the visit cannot do without and cannot exchange."""
    found = [
        Bound(need, some[0], until)
        for need, some in candidates.items()
        if len(some) == 1 and need in shape.parts
        for offset, minutes in joined(shape.parts[need])
        if (until := _there_until(free.get(some[0], ()), start + offset)) < start + offset + minutes
    ]
    return min(found, key=lambda one: one.until, default=None)


def _there_until(free: Sequence[Span], at: int) -> int:
    """Until when it is free without a break from that minute on; since when it is not, where it is not free then."""
    return max((end for begin, end in free if begin <= at), default=at)
