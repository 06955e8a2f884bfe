"""What a visit is made of, as plain values: read from its rows, laid end to end."""

from collections.abc import Sequence

from clinic.diary.engine.visit import SegmentSpec, Shape, shape
from clinic.diary.models import Need, VisitType
from clinic.diary.resources import lights_wanted
from clinic.diary.standard import SegmentPlan

# The most that a plan may ask for in one visit; forms ask for no more.
MOST_CYCLES = 6
A_LIGHT = "any"


def segments_of(visit_type: VisitType) -> list[SegmentPlan]:
    """One query, one prefetch."""
    return [
        SegmentPlan(
            row.name,
            row.minutes,
            tuple((Need(one.need), one.only_with_light) for one in row.needs.all()),
            row.basis,
            row.per_cycle,
            row.measured_as,
        )
        for row in visit_type.segments.prefetch_related("needs")
    ]


def laid_out(segments: Sequence[SegmentPlan], *, cycles: int, light_kind: str = A_LIGHT) -> Shape:
    """Length and claims of a visit with so many cycles and this kind of light."""
    specs = [
        SegmentSpec(str(one.name), one.minutes, tuple(lights_wanted(one.needs, light_kind)), one.per_cycle)
        for one in segments
    ]
    return shape(specs, cycles=cycles)
