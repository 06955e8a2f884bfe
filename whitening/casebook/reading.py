"""Rows of many cases at once: a number of queries that does not grow with the cases, and none after that."""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from django.db.models import Prefetch

from clinic.accounts.models import Site, User
from clinic.diary.models import Booking, Need, ResourceClaim
from whitening.cases.models import Case, Plan, Product
from whitening.chairside import readiness
from whitening.chairside.models import LightUnit
from whitening.consent.models import Signature
from whitening.consent.reading import WITH_SIGNATURE
from whitening.screening import local_rules
from whitening.screening.grades import Profession
from whitening.screening.joined import with_joined
from whitening.screening.models import Decision, Reask

V = TypeVar("V")
_FOR_OUTCOME = (
    Prefetch("plans", Plan.objects.select_related("product", "planned_by", "prescribed_by")),
    Prefetch("signatures", Signature.objects.select_related(*WITH_SIGNATURE)),
    Prefetch("decisions", Decision.objects.select_related("decided_by")),
    Prefetch("reasks", Reask.objects.select_related("decision__decided_by")),
    "answer_sets",
    "examinations",
)
_FOR_GATES = (
    *_FOR_OUTCOME,
    "sessions",
    "talks",
    "identity_checks",
)


def for_gates(case_ids: Collection[int]) -> dict[int, Case]:
    """Fresh copies, by id: what was read earlier is never judged by."""
    rows = with_joined(Case.objects.filter(pk__in=set(case_ids)).select_related("site", "patient"))
    cases = {case.pk: case for case in rows.prefetch_related(*_FOR_GATES)}
    local_rules.remembered(case.site for case in cases.values())
    return cases


def for_outcome(case_id: int) -> Case:
    case = Case.objects.select_related("site", "patient").prefetch_related(*_FOR_OUTCOME).get(pk=case_id)
    local_rules.remembered([case.site])
    return case


@dataclass(frozen=True, slots=True)
class Booked:
    """Who is booked as clinician: what the first of them is, and whose cover has run out by that day."""

    profession: Profession
    lapsed: tuple[str, ...]


def clinicians(bookings: Iterable[Booking]) -> dict[int, Booked]:
    """By booking id; a booking without a clinician is left out."""
    days = {booking.pk: booking.wall_on for booking in bookings}
    claims = ResourceClaim.objects.filter(
        booking__in=days, need=Need.CLINICIAN, active=True, resource__person__isnull=False
    )
    people: dict[int, list[User]] = {}
    for claim in claims.select_related("resource__person").order_by("start_at", "pk"):
        if claim.resource.person is not None:
            people.setdefault(claim.booking_id, []).append(claim.resource.person)
    return {pk: _booked(found, days[pk]) for pk, found in people.items()}


def _booked(people: Sequence[User], day: date) -> Booked:
    lapsed = dict.fromkeys(person.name for person in people if not person.in_date(day))
    return Booked(Profession(people[0].profession), tuple(lapsed))


class Stock:
    """Lights and gel, each looked up once however many cases ask for it."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], object] = {}

    def light_checked(self, *, site: Site, kind: str, day: date) -> bool:
        units = self._once(("lights", site.pk, kind), lambda: list(_units(site, kind)))
        return any(readiness.unit_ready(unit, day) for unit in units)

    def batch_ready(self, *, site: Site, product: Product, day: date) -> bool:
        """Whatever day is asked about, it is looked up once: pages ask about many."""
        key = ("batch", site.pk, product.pk)
        until = self._once(key, lambda: readiness.usable_until(site=site, product=product))
        return until is not None and day <= until

    def _once(self, key: tuple[object, ...], look_up: Callable[[], V]) -> V:
        if key not in self._known:
            self._known[key] = look_up()
        return self._known[key]  # type: ignore[return-value]  # what look_up gave for this very key


def _units(site: Site, kind: str) -> Iterable[LightUnit]:
    units = LightUnit.objects.in_use().filter(resource__site=site, resource__light_kind=kind)
    return units.select_related("resource").prefetch_related("checks")
