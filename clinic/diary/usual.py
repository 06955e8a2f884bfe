"""How long a segment usually takes whom. Another room measures finished visits; this room only asks.

A person's own length holds once there are enough visits to say so. With anyone suitable nobody knows yet whose
hands it will be in: the longest of the known ones is kept free, and never less than what is set up.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from django_stubs_ext import StrOrPromise

from clinic.diary.models import VisitType
from clinic.diary.standard import SegmentPlan


@dataclass(frozen=True, slots=True)
class Measure:
    """A stretch of finished visits that can be measured."""

    code: str
    label: StrOrPromise


@dataclass(frozen=True, slots=True)
class Usual:
    """`within` of so many visits of this person took at most so many minutes; enough: they are enough to count."""

    name: str
    measure: str
    minutes: int
    within: int
    visits: int
    enough: bool


@dataclass(frozen=True, slots=True)
class Worked:
    """The working: what is set up, what is known, and the segment at the length that is kept free."""

    segment: SegmentPlan
    set_up: int
    known: tuple[Usual, ...] = ()

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


def worked_out(segments: Sequence[SegmentPlan], found: Sequence[Usual], *, person: int | None) -> list[Worked]:
    """Each segment at the length to keep free. Pure."""
    return [_worked(one, [each for each in found if one.measured_as == each.measure], person) for one in segments]


def _worked(segment: SegmentPlan, found: Sequence[Usual], person: int | None) -> Worked:
    counted = [one.minutes for one in found if one.enough]
    if not counted:
        return Worked(segment, segment.minutes, tuple(found))
    minutes = max(counted) if person is not None else max(segment.minutes, *counted)
    return Worked(replace(segment, minutes=minutes), segment.minutes, tuple(found))
