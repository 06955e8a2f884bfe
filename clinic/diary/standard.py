"""What a standard visit is made of. Other rooms say which visits a practice starts with."""

from collections.abc import Iterable
from dataclasses import dataclass

from django_stubs_ext import StrOrPromise

from clinic.diary.models import Need, VisitCode

Claims = tuple[tuple[Need, bool], ...]


@dataclass(frozen=True, slots=True)
class SegmentPlan:
    """needs: what is claimed, and whether only when the visit uses a light. basis: where the length comes from.

    measured_as: the stretch of finished visits from which a person's own length is learned (clinic.diary.usual).
    """

    name: StrOrPromise
    minutes: int
    needs: Claims
    basis: str
    per_cycle: bool = False
    measured_as: str = ""


@dataclass(frozen=True, slots=True)
class VisitPlan:
    code: VisitCode
    name: StrOrPromise
    segments: tuple[SegmentPlan, ...]
    patient_name: StrOrPromise = ""
    patient_may_book: bool = False


_plans: dict[str, VisitPlan] = {}


def register(plans: Iterable[VisitPlan]) -> None:
    _plans.update({plan.code: plan for plan in plans})


def registered() -> list[VisitPlan]:
    return list(_plans.values())
