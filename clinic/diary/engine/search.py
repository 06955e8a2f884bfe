"""Which start times work, and who and what would be claimed at each.

For every need and every candidate, the start minutes that fit are a set of stretches; a need can be
met where the union of its candidates' sets lies; a visit fits where all needs' sets meet. Candidates
are combined only at the few minutes that survive, so products of rooms, people and lights are never listed.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from clinic.diary.engine.spans import Span, common, grid, merged, starts_that_fit
from clinic.diary.engine.visit import Shape, joined

GRID_MINUTES = 15  # the diary is drawn in quarter hours (common practice, no source)


@dataclass(frozen=True, slots=True)
class Opening:
    """A start minute with one candidate (its id) for each need."""

    start: int
    minutes: int
    chosen: tuple[tuple[str, int], ...]


def candidate_starts(shape: Shape, free: Mapping[int, Sequence[Span]], need: str, candidate: int) -> list[Span]:
    """Start minutes at which this candidate is free in every stretch of this need."""
    spans: list[Span] | None = None
    for offset, minutes in joined(shape.parts[need]):
        fits = starts_that_fit(free.get(candidate, ()), offset, minutes)
        spans = fits if spans is None else common(spans, fits)
    return spans or []


def find(
    shape: Shape,
    *,
    candidates: Mapping[str, Sequence[int]],
    free: Mapping[int, Sequence[Span]],
    within: Sequence[Span],
    step: int = GRID_MINUTES,
) -> Iterator[Opening]:
    """Openings in order of time, started within the stretches. At one time, candidates are tried in the order given."""
    starts = {
        need: {candidate: candidate_starts(shape, free, need, candidate) for candidate in candidates.get(need, ())}
        for need in shape.parts
    }
    possible = list(within)
    for by_candidate in starts.values():
        possible = common(possible, merged(span for spans in by_candidate.values() for span in spans))
    for minute in grid(possible, step):
        chosen = _choose(sorted(starts, key=lambda need: len(starts[need])), starts, minute, {})
        if chosen is not None:
            yield Opening(minute, shape.minutes, tuple(sorted(chosen.items())))


def first_starts(
    shape: Shape,
    *,
    candidates: Mapping[str, Sequence[int]],
    free: Mapping[int, Sequence[Span]],
    within: Sequence[Span],
) -> dict[str, int | None]:
    """For each need the first minute at which it alone could be met; None: it leaves no start at all."""
    return {need: _first(shape, candidates.get(need, ()), free, need, within) for need in shape.parts}


def _first(
    shape: Shape,
    some: Sequence[int],
    free: Mapping[int, Sequence[Span]],
    need: str,
    within: Sequence[Span],
) -> int | None:
    fits = (common(within, candidate_starts(shape, free, need, candidate)) for candidate in some)
    return min((spans[0][0] for spans in fits if spans), default=None)


def _choose(
    needs: Sequence[str], starts: Mapping[str, Mapping[int, list[Span]]], minute: int, chosen: dict[str, int]
) -> dict[str, int] | None:
    """Depth first over the needs, rarest first; nobody and nothing serves two needs of one visit."""
    if not needs:
        return chosen
    for candidate, spans in starts[needs[0]].items():
        if candidate not in chosen.values() and any(start <= minute < end for start, end in spans):
            rest = _choose(needs[1:], starts, minute, {**chosen, needs[0]: candidate})
            if rest is not None:
                return rest
    return None
