"""A visit as a small picture: its segments in order, and who and what is bound when."""

from collections.abc import Sequence
from dataclasses import dataclass

from clinic.diary.engine.visit import joined
from clinic.diary.models import Need
from clinic.diary.segments import laid_out
from clinic.diary.standard import SegmentPlan

CYCLES_SHOWN = 4


@dataclass(frozen=True, slots=True)
class Bar:
    """From the start of the visit, in minutes."""

    start: int
    minutes: int
    name: str = ""

    @property
    def end(self) -> int:
        return self.start + self.minutes


@dataclass(frozen=True, slots=True)
class Lane:
    """One need: when it is bound, for how long in all, and how much it is free for somebody else in between."""

    need: Need
    bars: tuple[Bar, ...]
    bound: int
    between: int


@dataclass(frozen=True, slots=True)
class Timeline:
    """cycles: of how many the picture is; none where no segment counts them."""

    minutes: int
    cycles: int
    parts: tuple[Bar, ...]
    lanes: tuple[Lane, ...]


def timeline(segments: Sequence[SegmentPlan], *, cycles: int = CYCLES_SHOWN) -> Timeline:
    whole = laid_out(segments, cycles=cycles)
    counted = cycles if any(one.per_cycle for one in segments) else 0
    lanes = tuple(_lane(Need(need), joined(whole.parts[need])) for need in Need if need in whole.parts)
    return Timeline(whole.minutes, counted, _parts(segments, cycles), lanes)


def _parts(segments: Sequence[SegmentPlan], cycles: int) -> tuple[Bar, ...]:
    bars: list[Bar] = []
    for one in segments:
        start = bars[-1].end if bars else 0
        bars.append(Bar(start, one.minutes * cycles if one.per_cycle else one.minutes, str(one.name)))
    return tuple(bar for bar in bars if bar.minutes)


def _lane(need: Need, stretches: Sequence[tuple[int, int]]) -> Lane:
    bars = tuple(Bar(offset, minutes) for offset, minutes in stretches)
    bound = sum(bar.minutes for bar in bars)
    return Lane(need, bars, bound, bars[-1].end - bars[0].start - bound)
