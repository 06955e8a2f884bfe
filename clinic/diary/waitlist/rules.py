"""Rules of the waiting list: how long somebody has to answer, and who is offered which time. No database, no clock.

A time goes to somebody whom it fits. Of these, whoever would be clear to start by then comes first, and then whoever
has waited longest. Several times and several people are settled together: first as many offers as possible, then as
many of them as possible to people who would be clear, then the longest waiting, in days over all of them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from clinic.diary.engine.spans import Span

# How long a time is held for an answer (the practice's own decision, no source).
TO_ANSWER = timedelta(minutes=30)
TO_ANSWER_SOON = timedelta(minutes=10)
SOON = timedelta(hours=4)

# So many people and times are settled in one go: more of either wait for the next round.
MOST = 60
_MOST_DAYS = 3650
# Whole numbers, each level larger than all of the one below together: exact as binary floats (below 2^53).
_DAY = 2**19
_UNCLEAR = _DAY * 2**18
_NO_OFFER = _UNCLEAR * 2**6


def answer_by(*, now: datetime, starts_at: datetime) -> datetime:
    """Half an hour, ten minutes for a time within four hours, and never longer than until it begins."""
    to_answer = TO_ANSWER_SOON if starts_at - now <= SOON else TO_ANSWER
    return min(now + to_answer, starts_at)


def earliest_start(*, now: datetime, notice: timedelta) -> datetime:
    """Nobody is offered a time that begins before they had time to answer."""
    return now + max(notice, TO_ANSWER_SOON)


def nearest(starts: Sequence[int], gap: Span) -> int | None:
    """The start that leaves the least lost of what became free: at its beginning, or as near to it as there is."""
    return min(starts, key=lambda start: (abs(start - gap[0]), start), default=None)


@dataclass(frozen=True, slots=True, order=True)
class Person:
    """Somebody who waits. Whoever waits longer comes first; of the same day, whoever was entered first."""

    since_on: date
    wish: int


# By (wish, number of the time): whether that person would be clear to start by then. A pair that is not here fits not.
Fits = Mapping[tuple[int, int], bool]


def assign(people: Sequence[Person], times: int, fits: Fits, *, today: date) -> list[tuple[int, int]]:
    """(wish, time) for each offer, in the order of the times. The same for the same people, in whatever order given."""
    served = sorted({one for one in people if any((one.wish, time) in fits for time in range(times))})[:MOST]
    wanted = [time for time in range(times) if any((one.wish, time) in fits for one in served)][:MOST]
    if not served:
        return []
    costs = [
        [_cost(one, rank, time, fits, today, number, len(served), len(wanted)) for number, time in enumerate(wanted)]
        for rank, one in enumerate(served)
    ]
    pairs = [(served[row].wish, wanted[column]) for row, column in _cheapest(costs)]
    return sorted((pair for pair in pairs if pair in fits), key=lambda pair: pair[1])


def waited(person: Person, today: date) -> int:
    """In whole days; nobody gains by more than ten years."""
    return min(max((today - person.since_on).days, 0), _MOST_DAYS)


def _cost(person: Person, rank: int, time: int, fits: Fits, today: date, number: int, people: int, times: int) -> int:
    clear = fits.get((person.wish, time))
    if clear is None:
        return _NO_OFFER
    # Of ways that are as good: the earlier times, and the earlier of two to whoever waits longer.
    order = people * number + rank * (times - number)
    return (0 if clear else _UNCLEAR) + (_MOST_DAYS - waited(person, today)) * _DAY + order


def _cheapest(costs: list[list[int]]) -> list[tuple[int, int]]:
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415  (half a second, and most ticks have nothing)

    rows, columns = linear_sum_assignment(costs)
    return list(zip(rows.tolist(), columns.tolist(), strict=True))
