"""What a visit is made of, as plain values: read from its rows, laid end to end."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from clinic.diary.engine.spans import to_minute
from clinic.diary.engine.visit import SegmentSpec, Shape, Stretch, shape
from clinic.diary.models import Need, Segment, VisitType
from clinic.diary.resources import lights_wanted
from clinic.diary.standard import SegmentPlan
from clinic.trail.readymade import Statement, blanks, once, select

# The most that a plan may ask for in one visit; forms ask for no more.
MOST_CYCLES = 6
A_LIGHT = "any"


_ORDER = {need: number for number, need in enumerate(Need)}


def _in_order(needed: tuple[Need, bool]) -> int:
    """The same on every database: reasons and choices are told in this order."""
    return _ORDER[needed[0]]


def segments_of(visit_type: VisitType) -> list[SegmentPlan]:
    """In their order. One query: a row for each need, and one for a segment without any."""
    found: dict[tuple[Any, ...], list[tuple[Need, bool]]] = {}
    for *segment, need, only_with_light in _segments().values(visit_type=visit_type.pk):
        needs = found.setdefault(tuple(segment), [])
        if need is not None:
            needs.append((Need(need), only_with_light))
    return [
        SegmentPlan(name, minutes, tuple(sorted(needs, key=_in_order)), basis, per_cycle, measured_as)
        for (_position, name, minutes, basis, per_cycle, measured_as), needs in found.items()
    ]


@once
def _segments() -> Statement:
    columns = ("position", "name", "minutes", "basis", "per_cycle", "measured_as")
    rows = Segment.objects.filter(**blanks(Segment, "visit_type")).order_by("position")
    return select(rows.values_list(*columns, "needs__need", "needs__only_with_light"))


def laid_out(segments: Sequence[SegmentPlan], *, cycles: int, light_kind: str = A_LIGHT) -> Shape:
    """Length and claims of a visit with so many cycles and this kind of light."""
    specs = [
        SegmentSpec(str(one.name), one.minutes, tuple(lights_wanted(one.needs, light_kind)), one.per_cycle)
        for one in segments
    ]
    return shape(specs, cycles=cycles)


def kept_shape(claims: Iterable[tuple[str, str, datetime, datetime, datetime, datetime]]) -> Shape:
    """Of a visit as it is booked: (need, segment, from, to, start and end of the visit), in order of time."""
    parts: dict[str, list[Stretch]] = {}
    minutes = 0
    for need, segment, start_at, end_at, starts_at, ends_at in claims:
        minutes = to_minute(ends_at) - to_minute(starts_at)
        offset = to_minute(start_at) - to_minute(starts_at)
        parts.setdefault(need, []).append(Stretch(segment, offset, to_minute(end_at) - to_minute(start_at)))
    return Shape(minutes, {need: tuple(stretches) for need, stretches in parts.items()})
