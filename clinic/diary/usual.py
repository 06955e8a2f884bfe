"""How long a segment usually takes whom. Another room measures finished visits; this room only asks.

A person's own length holds once there are enough visits to say so. With anyone suitable nobody knows yet whose
hands it will be in: the longest of the known ones is kept free, and never less than what is set up.

How long a cycle lasts is its plan's; what is learned is what somebody needs besides. Where no plan is made yet, the
planned part is what is set up without the change-over.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from django_stubs_ext import StrOrPromise

from clinic.diary.models import VisitType
from clinic.diary.standard import SegmentPlan

# What changing over takes of a cycle as it is set up, until it is learned; common practice, no source.
CHANGE_OVER = 5


@dataclass(frozen=True, slots=True)
class Measure:
    """A stretch of finished visits that can be measured."""

    code: str
    label: StrOrPromise


@dataclass(frozen=True, slots=True)
class Usual:
    """`within` of so many visits of this person took at most so many minutes; enough: they are enough to count.

    on_top: these minutes come on top of those that the plan says.
    """

    name: str
    measure: str
    minutes: int
    within: int
    visits: int
    enough: bool
    on_top: bool = False


@dataclass(frozen=True, slots=True)
class Worked:
    """The working: what is set up, what is planned, what is known, and the segment at the length that is kept free."""

    segment: SegmentPlan
    set_up: int
    known: tuple[Usual, ...] = ()
    planned: int = 0

    @property
    def is_learned(self) -> bool:
        return self.segment.minutes != self.set_up


class Provider(Protocol):
    def measures(self, code: str) -> Sequence[Measure]: ...

    def usual(self, visit_type: VisitType, person: int | None) -> Sequence[Usual]:
        """person: the id of that person's resource, or None for everybody who may do such a visit. One query."""
        ...


_providers: list[Provider] = []


def register(provider: Provider) -> None:
    if not any(type(one) is type(provider) for one in _providers):
        _providers.append(provider)


def measures(code: str) -> list[Measure]:
    return [measure for provider in _providers for measure in provider.measures(code)]


def known(visit_type: VisitType, segments: Iterable[SegmentPlan], *, person: int | None) -> list[Usual]:
    """Nothing is asked where no segment learns."""
    if not any(one.measured_as for one in segments):
        return []
    return [usual for provider in _providers for usual in provider.usual(visit_type, person)]


def worked_out(
    segments: Sequence[SegmentPlan], found: Sequence[Usual], *, person: int | None, cycle_minutes: int = 0
) -> list[Worked]:
    """Each segment at the length to keep free. cycle_minutes: those that the plan says, 0 without one. Pure."""
    return [
        _worked(one, [each for each in found if one.measured_as == each.measure], person, cycle_minutes)
        for one in segments
    ]


def _worked(segment: SegmentPlan, found: Sequence[Usual], person: int | None, cycle_minutes: int) -> Worked:
    planned = cycle_minutes if segment.per_cycle else 0
    assumed = planned or max(segment.minutes - CHANGE_OVER, 1)
    # A plan with longer cycles than are set up is never given less time than it takes.
    least = max(segment.minutes, planned + CHANGE_OVER) if planned else segment.minutes
    counted = [one.minutes + (assumed if one.on_top else 0) for one in found if one.enough]
    minutes = max(counted) if counted and person is not None else max([least, *counted])
    return Worked(replace(segment, minutes=minutes), segment.minutes, tuple(found), planned)
