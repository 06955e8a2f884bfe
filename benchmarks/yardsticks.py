"""What a free time is measured against: a bare script, SQL alone, and a constraint solver. All give the same starts."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

Span = tuple[int, int]
WEEK, DAY, STEP = 7 * 1440, 1440, 15
_WEEK_OF_CLAIMS = """
SELECT resource_id, (extract(epoch FROM start_at) / 60)::int, (extract(epoch FROM end_at) / 60)::int
FROM resource_claim
WHERE resource_id = ANY(%s) AND active
  AND start_at < to_timestamp(%s::bigint * 60) AND end_at > to_timestamp(%s::bigint * 60)
  AND start_at > to_timestamp(%s::bigint * 60)
ORDER BY resource_id, start_at
"""
# For each quarter hour: is there one of each kind that nothing claims meanwhile?
_ONE_FREE = """EXISTS (SELECT 1 FROM unnest(%s::bigint[]) AS one(id) WHERE NOT EXISTS (
    SELECT 1 FROM resource_claim c WHERE c.resource_id = one.id AND c.active
      AND tstzrange(c.start_at, c.end_at, '[)') && tstzrange(at, at + interval '{minutes} minutes', '[)')))"""
_NESTED = """
SELECT (extract(epoch FROM at) / 60)::int
FROM generate_series(to_timestamp(%s::bigint * 60), to_timestamp(%s::bigint * 60), interval '15 minutes') AS at
WHERE at AT TIME ZONE 'UTC' - date_trunc('day', at AT TIME ZONE 'UTC')
      BETWEEN interval '{opens} minutes' AND interval '{last} minutes'
  AND {conditions}
ORDER BY at LIMIT %s
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """The first starts on the grid, from this minute on, at which one of each kind is free within the day's hours."""

    kinds: Mapping[str, Sequence[int]]
    start: int
    minutes: int
    hours: Span
    limit: int
    days: int = 90

    @property
    def ids(self) -> list[int]:
        return [pk for ids in self.kinds.values() for pk in ids]


def bare(cursor: Any, asked: Question) -> list[int]:
    """Reads a week at a time, merges, and stops: what any program has to do at the least."""
    found: list[int] = []
    for week in range(asked.start, asked.start + asked.days * DAY, WEEK):
        claims = _claims(cursor, asked.ids, week, week + WEEK + asked.minutes)
        fits = [_any_of(ids, claims, week, asked) for ids in asked.kinds.values()]
        found += sorted(set.intersection(*fits))
        if len(found) >= asked.limit:
            break
    return found[: asked.limit]


def _claims(cursor: Any, ids: list[int], start: int, end: int) -> dict[int, list[Span]]:
    # No claim lasts so long: with an earliest start the index is not read from the first visit of all times on.
    cursor.execute(_WEEK_OF_CLAIMS, [ids, end, start, start - 2 * DAY])
    claims: dict[int, list[Span]] = {pk: [] for pk in ids}
    for pk, from_at, to_at in cursor.fetchall():
        claims[pk].append((from_at, to_at))
    return claims


def _any_of(ids: Iterable[int], claims: Mapping[int, Sequence[Span]], week: int, asked: Question) -> set[int]:
    """Starts on the grid at which one of these is free long enough within the hours of a day."""
    starts: set[int] = set()
    minutes, hours = asked.minutes, asked.hours
    for pk in ids:
        taken = [*claims[pk], (week + WEEK + DAY, week + WEEK + DAY)]
        number = 0
        for day in range(week, week + WEEK, DAY):
            at, closes = day + hours[0], day + hours[1]
            while at + minutes <= closes:
                while taken[number][1] <= at:
                    number += 1
                ends = min(taken[number][0], closes)
                starts.update(range(-(-at // STEP) * STEP, ends - minutes + 1, STEP))
                at = max(taken[number][1], at + 1) if taken[number][0] < closes else closes
    return starts


def nested(cursor: Any, asked: Question) -> list[int]:
    conditions = " AND ".join([_ONE_FREE.format(minutes=asked.minutes)] * len(asked.kinds))
    sql = _NESTED.format(opens=asked.hours[0], last=asked.hours[1] - asked.minutes, conditions=conditions)
    kinds = (list(ids) for ids in asked.kinds.values())
    cursor.execute(sql, [asked.start, asked.start + asked.days * DAY, *kinds, asked.limit])
    return [minute for (minute,) in cursor.fetchall()]


def solved(cursor: Any, asked: Question) -> list[int]:
    """One resource of each kind without an overlap, as early as can be; again after that start, and again.

    The whole question in one model: whoever asks cannot know how many of the days will be needed.
    """
    from ortools.sat.python import cp_model  # noqa: PLC0415  (a second to import)

    end = asked.start + asked.days * DAY
    claims = _claims(cursor, asked.ids, asked.start, end + asked.minutes)
    model = cp_model.CpModel()
    days = (range(day + asked.hours[0], day + asked.hours[1] - asked.minutes + 1, STEP) for day in _days(asked, end))
    at = model.new_int_var_from_domain(cp_model.Domain.from_values([minute for day in days for minute in day]), "at")
    for ids in asked.kinds.values():
        chosen = [model.new_bool_var(f"of {pk}") for pk in ids]
        model.add_exactly_one(chosen)
        for pk, takes in zip(ids, chosen, strict=True):
            visit = model.new_optional_fixed_size_interval_var(at, asked.minutes, takes, f"visit {pk}")
            taken = [model.new_fixed_size_interval_var(a, b - a, "taken") for a, b in claims[pk]]
            model.add_no_overlap([visit, *taken])
    model.minimize(at)
    found: list[int] = []
    while len(found) < asked.limit:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            break
        found.append(solver.value(at))
        model.add(at > found[-1])
    return found


def _days(asked: Question, end: int) -> range:
    return range(asked.start, end, DAY)
