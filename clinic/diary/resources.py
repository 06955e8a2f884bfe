"""Which rooms, people and lights may serve which need of a visit."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db import DEFAULT_DB_ALIAS
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import day_words
from clinic.accounts.models import Membership, Role, Site, User
from clinic.diary.engine.working import Pattern
from clinic.diary.models import LightKind, Need, Resource, ResourceKind, VisitType, WorkingPattern
from clinic.diary.models.hours import grouped
from clinic.trail.readymade import Blank, Statement, blanks, once, select

_LIGHTS = {
    Need.LIGHT_HAND_HELD: {LightKind.HAND_HELD},
    Need.LIGHT_ARCH: {LightKind.ARCH},
    Need.LIGHT_ANY: {LightKind.HAND_HELD, LightKind.ARCH},
}

_RESOURCE = [column.attname for column in Resource._meta.concrete_fields]
_PERSON = [column.attname for column in User._meta.concrete_fields]
# Needs that only somebody with a registration and indemnity in date may serve.
_IN_DATE = (Need.CLINICIAN, Need.EXAMINER)


def candidates(
    site: Site,
    needs: Iterable[str],
    *,
    day: date,
    visit_type: VisitType,
    person: int | None = None,
    only: Mapping[str, int] | None = None,
) -> dict[str, list[Resource]]:
    """Bookable resources of the site for each need, in the order of the page. Two queries.

    Nobody who does not do this kind of visit. With person (the id of a person's resource) only that one may
    serve as clinician or examiner. only: for some needs the one resource that is to serve them, where it may.
    """
    resources = _bookable(site, visit_type)
    roles = _roles(site)
    chosen = only or {}
    return {
        need: [
            one
            for one in resources
            if _may_serve(one, Need(need), day, roles)
            and _wanted(one, Need(need), person)
            and chosen.get(need, one.pk) == one.pk
        ]
        for need in needs
    }


@dataclass(frozen=True, slots=True)
class Staff:
    """The people of a site as resources, and their roles there: who may serve which need on a day."""

    people: Mapping[int, Resource]
    roles: Mapping[int, Collection[str]]

    def may(self, resource_id: int, need: str, day: date) -> bool:
        one = self.people.get(resource_id)
        return one is None or _may_serve(one, Need(need), day, self.roles)

    def why_not(self, resource_id: int, day: date) -> StrOrPromise:
        """Of a person who may not serve on that day what they are booked for."""
        user = self.people[resource_id].person
        if user is None or not user.is_active or not self.roles.get(user.pk):
            return _("does not work here any more")
        if not user.in_date(day):
            until = min(filter(None, (user.registration_expires_on, user.indemnity_expires_on)))
            return format_lazy(_("registration or indemnity valid until {day} only"), day=day_words(until))
        return _("does not have the right to do this any more")


def staff_of(site: Site) -> Staff:
    """Also whoever has left. Two queries."""
    people = Resource.objects.filter(site=site, kind=ResourceKind.PERSON).select_related("person")
    return Staff({one.pk: one for one in people}, _roles(site))


def last_days(by_need: Mapping[str, Sequence[Resource]]) -> dict[int, date]:
    """Until which day the people who treat or examine may do so, where a date was entered."""
    result = {}
    for resource in (one for need in _IN_DATE if need in by_need for one in by_need[need]):
        user = resource.person
        ends = [user.registration_expires_on, user.indemnity_expires_on] if user else []
        if known := [day for day in ends if day is not None]:
            result[resource.pk] = min(known)
    return result


def lights_wanted(needs: Sequence[tuple[str, bool]], light_kind: str) -> list[str]:
    """The needs of a segment for a visit with this light: (need, only with a light), narrowed to its kind."""
    result = []
    for need, only_with_light in needs:
        if only_with_light and not light_kind:
            continue
        is_light = Need(need) in _LIGHTS
        result.append(f"light_{light_kind}" if is_light and light_kind else need)
    return result


def hours_of(site: Site) -> Mapping[int, Sequence[Pattern]]:
    """By resource. One query."""
    return grouped(_hours().values(site=site.pk))


@once
def _hours() -> Statement:
    rows = WorkingPattern.objects.filter(resource__active=True, resource__site=Blank("site", Site._meta.pk))
    return select(rows.shapes())


def _bookable(site: Site, visit_type: VisitType) -> list[Resource]:
    found = []
    for row in _with_people().values(site=site.pk, visit_type=visit_type.pk):
        resource = Resource.from_db(DEFAULT_DB_ALIAS, _RESOURCE, row[: len(_RESOURCE)])
        if resource.person_id is not None:
            resource.person = User.from_db(DEFAULT_DB_ALIAS, _PERSON, row[len(_RESOURCE) :])
        found.append(resource)
    return found


@once
def _with_people() -> Statement:
    rows = Resource.objects.bookable().filter(**blanks(Resource, "site"))
    able = rows.exclude(without_visits=Blank("visit_type", VisitType._meta.pk))
    return select(able.values_list(*_RESOURCE, *(f"person__{name}" for name in _PERSON)))


def _roles(site: Site) -> dict[int, set[str]]:
    roles: dict[int, set[str]] = {}
    for user_id, role in _memberships().rows(site=site.pk):
        roles.setdefault(user_id, set()).add(role)
    return roles


@once
def _memberships() -> Statement:
    return select(Membership.objects.filter(**blanks(Membership, "site")).values_list("user_id", "role"))


def _wanted(resource: Resource, need: Need, person: int | None) -> bool:
    return person is None or need not in _IN_DATE or resource.pk == person


def _may_serve(resource: Resource, need: Need, day: date, roles: Mapping[int, Collection[str]]) -> bool:
    if need == Need.ROOM:
        return resource.kind == ResourceKind.ROOM
    if need in _LIGHTS:
        return resource.light_kind in _LIGHTS[need]
    user = resource.person
    return user is not None and user.is_active and _person_may(user, need, day, roles.get(user.pk, set()))


def _person_may(user: User, need: Need, day: date, roles: Collection[str]) -> bool:
    if need == Need.ASSISTANT:
        return Role.ASSISTANT in roles
    if Role.CLINICIAN not in roles or not user.in_date(day):
        return False
    return user.may_examine_and_decide if need == Need.EXAMINER else user.may_carry_out
