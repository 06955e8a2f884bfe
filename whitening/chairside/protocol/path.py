"""The way of a session as it stands at the edge of the screen: done, now, to come."""

from collections.abc import Iterable

from whitening.chairside.protocol.facts import Tally
from whitening.chairside.protocol.kinds import PHASES, STEPS, Phase, Step
from whitening.chairside.protocol.limits_reached import handled
from whitening.chairside.protocol.state import Standing, Waypoint


def path(facts: Tally, step: Step | None) -> tuple[Waypoint, ...]:
    here = PHASES[step] if step is not None else None
    points: list[Waypoint] = []
    for phase in Phase:
        if phase is Phase.CYCLES:
            points += _cycles(facts, here)
        else:
            points.append(Waypoint(phase=phase, standing=_standing(facts, phase, here)))
    return tuple(points)


def _steps(phase: Phase) -> Iterable[Step]:
    return (step for step in STEPS if PHASES[step] is phase)


def _standing(facts: Tally, phase: Phase, here: Phase | None) -> Standing:
    if phase is here:
        return Standing.CURRENT
    if facts.closed is not None and phase is Phase.CLOSE:
        return Standing.DONE
    steps = [step for step in _steps(phase) if step is not Step.ENDED_EARLY or facts.arches_may_differ]
    if all(step in facts.skipped for step in steps):
        return Standing.LEFT_OUT
    if all(step in facts.seen or handled(facts, step) for step in steps):
        return Standing.DONE
    passed = here is None or list(Phase).index(phase) < list(Phase).index(here)
    return Standing.LEFT_OUT if passed else Standing.AHEAD


def _cycles(facts: Tally, here: Phase | None) -> list[Waypoint]:
    """One point for each cycle that was, is, or is planned; after the decision to stop only those that were."""
    count = len(facts.cycles) if facts.over else max(facts.plan.cycles_planned, len(facts.cycles))
    finished = sum(cycle.ended_at is not None and (cycle.decided or facts.over) for cycle in facts.cycles)
    points = [Waypoint(phase=Phase.CYCLES, standing=Standing.DONE, cycle=number + 1) for number in range(finished)]
    for number in range(finished, count):
        current = here is Phase.CYCLES and number == finished
        standing = Standing.CURRENT if current else Standing.AHEAD
        points.append(Waypoint(phase=Phase.CYCLES, standing=standing, cycle=number + 1))
    if here is Phase.CYCLES and finished >= count:
        points.append(Waypoint(phase=Phase.CYCLES, standing=Standing.CURRENT, cycle=finished + 1))
    return points
