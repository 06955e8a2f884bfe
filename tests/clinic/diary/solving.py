"""The same question put to a constraint solver: which starts leave everybody who is needed a free stretch."""

from collections.abc import Iterator
from itertools import groupby

from tests.clinic.diary.worlds import NAMES, World, candidates, free_minutes, shape, wanted_starts

Span = tuple[int, int]


def runs(some: set[int]) -> Iterator[Span]:
    for _, run in groupby(enumerate(sorted(some)), lambda pair: pair[1] - pair[0]):
        numbers = [number for _, number in run]
        yield numbers[0], numbers[-1] + 1


def starts(world: World) -> tuple[int | None, set[int]]:
    """The first one, found by minimising, and all of them, found by going through every solution."""
    from ortools.sat.python import cp_model  # noqa: PLC0415  (takes a second, and few tests ask it)

    length, claimed = shape(world)
    quarters = list(wanted_starts(world))
    if not quarters or not claimed:
        return None, set()
    origin, end = quarters[0], quarters[-1] + length
    model = cp_model.CpModel()
    start = model.new_int_var_from_domain(cp_model.Domain.from_values([one - origin for one in quarters]), "start")
    held: dict[str, list[cp_model.IntervalVar]] = {name: [] for name in NAMES}
    serving: dict[str, list[cp_model.BoolVarT]] = {name: [] for name in NAMES}
    for need, stretches in claimed.items():
        who = {name: model.new_bool_var(f"{need} {name}") for name in candidates(world, need)}
        model.add_exactly_one(who.values())
        for name, chosen in who.items():
            serving[name].append(chosen)
            held[name] += [
                model.new_optional_fixed_size_interval_var(start + one.start, len(one), chosen, need)
                for one in stretches
            ]
    for name in NAMES:
        model.add_at_most_one(serving[name])
        taken = set(range(origin, end)) - free_minutes(world, name)
        shut = [model.new_fixed_size_interval_var(a - origin, b - a, "shut") for a, b in runs(taken)]
        model.add_no_overlap([*held[name], *shut])

    class Seen(cp_model.CpSolverSolutionCallback):
        found: set[int]

        def on_solution_callback(self) -> None:
            self.found.add(origin + self.value(start))

    seen = Seen()
    seen.found = set()
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.enumerate_all_solutions = True
    ended = solver.solve(model, seen)
    assert ended in {cp_model.OPTIMAL, cp_model.INFEASIBLE}
    model.minimize(start)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    first = origin + solver.value(start) if solver.solve(model) == cp_model.OPTIMAL else None
    return first, seen.found
