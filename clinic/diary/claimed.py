"""What is claimed of the resources of a search, and what is closed, as stretches of minutes: merged where it lies.

Visits follow one another without a break, and of a week of them only where a gap begins and where it ends matters.
The database tells those alone, from the index of claims: making Python objects of all the others, and composing
the question anew for every week, took longer than answering it.
"""

from collections.abc import Collection, Sequence
from datetime import datetime

from django.db import connection

from clinic.accounts.models import Site
from clinic.diary.engine.spans import Span
from clinic.diary.models import LONGEST

# As `spans.to_minute` and `spans.to_minute_up`. SQLite cuts seconds off: a part of one counts as one more.
_MINUTE = {
    "postgresql": "floor(date_part('epoch', {0}) / 60)::integer",
    "sqlite": "CAST(strftime('%%s', {0}) AS INTEGER) / 60",
}
_MINUTE_UP = {
    "postgresql": "ceil(date_part('epoch', {0}) / 60)::integer",
    "sqlite": "(CAST(strftime('%%s', {0}) AS INTEGER) + 59 + (instr({0}, '.') > 0)) / 60",
}
# Two active claims of one resource never overlap, so the neighbours by start are the neighbours in time.
_EDGES = """
SELECT resource_id,
       CASE WHEN before IS NULL OR before < start_at THEN {start} END,
       CASE WHEN after IS NULL OR after > end_at THEN {end} END
FROM (
    SELECT resource_id, start_at, end_at, lag(end_at) OVER claims AS before, lead(start_at) OVER claims AS after
    FROM resource_claim
    WHERE active AND resource_id IN ({resources}) AND start_at > %s AND start_at < %s AND end_at > %s {without}
    WINDOW claims AS (PARTITION BY resource_id ORDER BY start_at)
) AS claim
WHERE before IS NULL OR after IS NULL OR before < start_at OR after > end_at
"""
_CLOSURES = """
SELECT resource_id, {start}, {end} FROM clinic_diary_closure WHERE site_id = %s AND starts_at < %s AND ends_at > %s
"""


def claimed(
    resources: Collection[int], start_at: datetime, end_at: datetime, *, without: Sequence[int] = ()
) -> dict[int, list[Span]]:
    """By resource, in order. without: bookings whose claims are looked through. One query."""
    if not resources:
        return {}
    sql = _EDGES.format(
        start=_MINUTE[connection.vendor].format("start_at"),
        end=_MINUTE_UP[connection.vendor].format("end_at"),
        resources=_places(resources),
        # The index holds no booking: without one to look through, the table itself is not read.
        without=f"AND booking_id NOT IN ({_places(without)})" if without else "",
    )
    times = (connection.ops.adapt_datetimefield_value(at) for at in (start_at - LONGEST, end_at, start_at))
    with connection.cursor() as cursor:
        cursor.execute(sql, [*resources, *times, *without])
        return _stretches(cursor.fetchall())


def closed(site: Site, start_at: datetime, end_at: datetime) -> dict[int | None, list[Span]]:
    """By resource; under None what is closed for everybody. One query."""
    sql = _CLOSURES.format(
        start=_MINUTE[connection.vendor].format("starts_at"), end=_MINUTE_UP[connection.vendor].format("ends_at")
    )
    found: dict[int | None, list[Span]] = {}
    with connection.cursor() as cursor:
        cursor.execute(sql, [site.pk, *(connection.ops.adapt_datetimefield_value(at) for at in (end_at, start_at))])
        for resource, start, end in cursor.fetchall():
            found.setdefault(resource, []).append((start, end))
    return found


def _stretches(edges: Sequence[tuple[int, int | None, int | None]]) -> dict[int, list[Span]]:
    starts: dict[int, list[int]] = {}
    ends: dict[int, list[int]] = {}
    for resource, start, end in edges:
        if start is not None:
            starts.setdefault(resource, []).append(start)
        if end is not None:
            ends.setdefault(resource, []).append(end)
    return {pk: list(zip(sorted(starts[pk]), sorted(ends[pk]), strict=True)) for pk in starts}


def _places(some: Collection[int]) -> str:
    return ", ".join(["%s"] * len(some))
