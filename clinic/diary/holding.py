"""What one visit holds, read for people: by resource without cuts where nobody leaves, and segment by segment."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from clinic.diary.models import ResourceClaim


@dataclass(slots=True)
class Stretch:
    name: str
    start_at: datetime
    end_at: datetime


@dataclass(slots=True)
class Hold:
    name: str
    stretches: list[Stretch] = field(default_factory=list)


def holds(claims: Iterable[ResourceClaim]) -> list[Hold]:
    """One entry per resource; stretches that follow one another are one."""
    found: dict[int, Hold] = {}
    for claim in sorted(claims, key=lambda claim: (claim.start_at, claim.pk)):
        hold = found.setdefault(claim.resource_id, Hold(claim.resource.name))
        if hold.stretches and hold.stretches[-1].end_at == claim.start_at:
            hold.stretches[-1].end_at = claim.end_at
        else:
            hold.stretches.append(Stretch(hold.name, claim.start_at, claim.end_at))
    return list(found.values())


def course(claims: Iterable[ResourceClaim]) -> list[Stretch]:
    """The segments in the order in which they happen."""
    found = {(claim.start_at, claim.end_at, claim.segment) for claim in claims}
    return [Stretch(segment, start_at, end_at) for start_at, end_at, segment in sorted(found)]
