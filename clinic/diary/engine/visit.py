"""The shape of one visit: segments one after the other, and what each part of it claims when."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SegmentSpec:
    """A segment as the practice set it up. minutes is per cycle when per_cycle is true."""

    name: str
    minutes: int
    needs: tuple[str, ...]
    per_cycle: bool = False


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a visit, in minutes from its start."""

    segment: str
    offset: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Shape:
    """Length in minutes, and for each need the stretches during which it is claimed."""

    minutes: int
    parts: dict[str, tuple[Stretch, ...]]


def shape(segments: Sequence[SegmentSpec], *, cycles: int) -> Shape:
    """Lays the segments end to end. A segment counted per cycle with no cycle takes no time."""
    parts: dict[str, list[Stretch]] = {}
    offset = 0
    for segment in segments:
        minutes = segment.minutes * cycles if segment.per_cycle else segment.minutes
        if minutes == 0:
            continue
        for need in segment.needs:
            parts.setdefault(need, []).append(Stretch(segment.name, offset, minutes))
        offset += minutes
    return Shape(offset, {need: tuple(stretches) for need, stretches in parts.items()})


def joined(stretches: Sequence[Stretch]) -> list[tuple[int, int]]:
    """(offset, minutes) of the stretches, neighbours made one: a claim is not cut where nobody leaves."""
    result: list[tuple[int, int]] = []
    for stretch in stretches:
        if result and sum(result[-1]) == stretch.offset:
            result[-1] = (result[-1][0], result[-1][1] + stretch.minutes)
        else:
            result.append((stretch.offset, stretch.minutes))
    return result
