"""How late a day runs: visits that cannot begin before those in front of them are over push the later ones.

A visit moves as a whole. Two visits may be interlaced (a clinician sees somebody else during the cycles), so the
delays are the least ones with which no two claims of one resource overlap and their order stays.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class Held:
    """Minutes that a visit was planned to hold one resource."""

    visit: int
    resource: int
    start: int
    end: int


def delays(held: Sequence[Held], *, least: Mapping[int, int]) -> dict[int, int]:
    """Minutes by visit. least: by how much each is late anyway; a visit that is not in it is over and pushes nobody."""
    # Claims never overlap, so the slack is never negative: pushing round and round ends.
    after: dict[int, list[tuple[int, int]]] = {visit: [] for visit in least}
    for one, other in _neighbours([each for each in held if each.visit in least]):
        after[one.visit].append((other.visit, max(other.start - one.end, 0)))
    late = dict(least)
    waiting = list(late)
    while waiting:
        visit = waiting.pop(0)
        for following, slack in after[visit]:
            if late[visit] - slack > late[following]:
                late[following] = late[visit] - slack
                waiting.append(following)
    return late


def _neighbours(held: Sequence[Held]) -> list[tuple[Held, Held]]:
    """What follows what at one resource."""
    by_resource: dict[int, list[Held]] = {}
    for one in sorted(held, key=lambda each: (each.start, each.end, each.visit)):
        by_resource.setdefault(one.resource, []).append(one)
    return [pair for some in by_resource.values() for pair in pairwise(some) if pair[0].visit != pair[1].visit]
