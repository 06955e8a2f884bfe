"""Several visits, one after the other: the days on which they can be so that every least and most distance holds.

Days are counted through (date.toordinal); no two visits of a course are on one day. The earliest course is the one
whose first visit is earliest, then whose second is, and so on: what a person would read off a diary.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

# Days with a time for the visit, from the first to the last asked, both included, in order. Asked lazily: whoever
# reads a diary need not read further than a course goes.
Days = Callable[[int, int], Iterable[int]]
Chosen = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """One visit of a course, and between which days it may be whatever the others do."""

    days: Days
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Gap:
    """Days from one visit (its place in the course) to a later one; most None: no limit."""

    before: int
    after: int
    least: int
    most: int | None = None


@dataclass(frozen=True, slots=True)
class InTheWay:
    """The first visit that cannot be placed behind those before it, and the days that were looked at for it.

    first is after last where the visits before leave it no day at all.
    """

    place: int
    first: int
    last: int


@dataclass(slots=True)
class _Search:
    """Depth first in order of days. A dead end is one again wherever the days that later visits look at agree."""

    places: Sequence[Place]
    gaps: Sequence[Gap]
    dead: set[Chosen] = field(default_factory=set)
    tried: dict[int, tuple[int, int]] = field(default_factory=dict)

    def run(self, chosen: Chosen = ()) -> Chosen | None:
        number = len(chosen)
        if number == len(self.places):
            return chosen
        key = (number, *chosen[-1:], *(chosen[gap.before] for gap in self.gaps if gap.before < number <= gap.after))
        if key in self.dead:
            return None
        first, last = self._window(chosen)
        for day in self.places[number].days(first, last) if first <= last else ():
            found = self.run((*chosen, day))
            if found is not None:
                return found
        self.dead.add(key)
        return None

    def _window(self, chosen: Chosen) -> tuple[int, int]:
        number, place = len(chosen), self.places[len(chosen)]
        mine = [gap for gap in self.gaps if gap.after == number]
        in_order = [chosen[-1] + 1] if chosen else []
        first = max([place.first, *in_order, *(chosen[gap.before] + gap.least for gap in mine)])
        last = min([place.last, *(chosen[gap.before] + gap.most for gap in mine if gap.most is not None)])
        known = self.tried.get(number, (first, last))
        self.tried[number] = min(first, known[0]), max(last, known[1])
        return first, last


def keeps(days: Sequence[int], gaps: Sequence[Gap]) -> bool:
    """Whether these days are in order and every distance holds."""
    return all(before < after for before, after in pairwise(days)) and all(
        gap.least <= _reach(days, gap) and (gap.most is None or _reach(days, gap) <= gap.most) for gap in gaps
    )


def _reach(days: Sequence[int], gap: Gap) -> int:
    return days[gap.after] - days[gap.before]


def earliest(places: Sequence[Place], gaps: Sequence[Gap]) -> Chosen | None:
    return _Search(places, gaps).run()


def proposals(places: Sequence[Place], gaps: Sequence[Gap], *, most: int) -> list[Chosen]:
    """The earliest course, then the earliest ones that begin on later days.

    Where the first visit has no later day, the second one gives the choice, and so on.
    """
    best = earliest(places, gaps)
    found = [best] if best is not None else []
    for number in range(len(places)):
        last = best
        while last is not None and len(found) < most:
            last = earliest(_from_then_on(places, found[0], number, last[number] + 1), gaps)
            found += [last] if last is not None else []
    return found


def _from_then_on(places: Sequence[Place], best: Chosen, number: int, first: int) -> list[Place]:
    """The visits before as in the earliest course, this one from that day on."""
    fixed = [replace(place, first=day, last=day) for place, day in zip(places[:number], best[:number], strict=True)]
    return [*fixed, replace(places[number], first=max(first, places[number].first)), *places[number + 1 :]]


def in_the_way(places: Sequence[Place], gaps: Sequence[Gap]) -> InTheWay | None:
    """Why there is no course; None where there is one."""
    for number in range(len(places)):
        search = _Search(places[: number + 1], gaps)
        if search.run() is None:
            return InTheWay(number, *search.tried[number])
    return None
