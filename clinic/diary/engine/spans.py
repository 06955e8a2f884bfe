"""Half-open stretches of whole minutes, [start, end), counted from 1970-01-01 00:00 UTC.

Integers keep the arithmetic exact and fast; a diary is cut no finer than a minute.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta

Span = tuple[int, int]
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MINUTE = timedelta(minutes=1)


def to_minute(at: datetime) -> int:
    """The minute that holds this instant (rounded down)."""
    return (at - _EPOCH) // _MINUTE


def to_minute_up(at: datetime) -> int:
    return -((_EPOCH - at) // _MINUTE)


def to_instant(minute: int) -> datetime:
    return _EPOCH + minute * _MINUTE


def merged(spans: Iterable[Span]) -> list[Span]:
    """The same minutes as few ordered stretches that do not touch."""
    result: list[Span] = []
    for start, end in sorted(spans):
        if start >= end:
            continue
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(end, result[-1][1]))
        else:
            result.append((start, end))
    return result


def without(spans: Sequence[Span], taken: Iterable[Span]) -> list[Span]:
    """The minutes of spans that no stretch of taken covers. Both may come in any order."""
    holes = merged(taken)
    result: list[Span] = []
    first = 0
    for start, end in merged(spans):
        while first < len(holes) and holes[first][1] <= start:
            first += 1
        at = start
        for hole_start, hole_end in holes[first:]:
            if hole_start >= end:
                break
            if hole_start > at:
                result.append((at, hole_start))
            at = max(at, hole_end)
        if at < end:
            result.append((at, end))
    return result


def common(left: Sequence[Span], right: Sequence[Span]) -> list[Span]:
    """The minutes that both hold. Both must be ordered and free of overlaps."""
    result: list[Span] = []
    i = j = 0
    while i < len(left) and j < len(right):
        start, end = max(left[i][0], right[j][0]), min(left[i][1], right[j][1])
        if start < end:
            result.append((start, end))
        if left[i][1] <= right[j][1]:
            i += 1
        else:
            j += 1
    return result


def starts_that_fit(free: Sequence[Span], offset: int, minutes: int) -> list[Span]:
    """Start minutes s for which [s + offset, s + offset + minutes) lies inside one free stretch."""
    return [(start - offset, end - offset - minutes + 1) for start, end in free if end - start >= minutes]


def grid(spans: Iterable[Span], step: int) -> Iterator[int]:
    """Minutes on the grid of step that the stretches hold, in order."""
    for start, end in spans:
        yield from range(-(-start // step) * step, end, step)
