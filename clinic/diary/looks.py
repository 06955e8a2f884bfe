"""How one looks at the diary, remembered in the address: a day or a week, by room or by person, and of whom."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from django.http import QueryDict
from django.urls import reverse

from clinic.accounts.models import Site
from clinic.diary.day import Column
from clinic.diary.models import Resource, ResourceKind

BY_PERSON = "person"
SHOWN = (ResourceKind.ROOM, ResourceKind.PERSON)


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """of: the room or person that a week is about, or that a narrow screen shows."""

    day: date
    kind: ResourceKind = ResourceKind.ROOM
    of: int | None = None
    is_week: bool = False

    @property
    def by_person(self) -> bool:
        return self.kind == ResourceKind.PERSON

    def url(self, **changes: Any) -> str:
        other = replace(self, **changes)
        asked = QueryDict(mutable=True)
        if other.by_person:
            asked["by"] = BY_PERSON
        if other.of is not None:
            asked["of"] = str(other.of)
        path = reverse("diary_week" if other.is_week else "diary_day", kwargs={"day": other.day.isoformat()})
        return f"{path}?{asked.urlencode()}" if asked else path


def look_of(asked: QueryDict, *, day: date, is_week: bool) -> Look:
    kind = ResourceKind.PERSON if asked.get("by") == BY_PERSON else ResourceKind.ROOM
    number = asked.get("of", "")
    is_number = number.isascii() and number.isdecimal() and len(number) < 10
    return Look(day=day, kind=kind, of=int(number) if is_number else None, is_week=is_week)


def resource_of(look: Look, site: Site) -> Resource | None:
    """Whose week it is: the one that was asked for, else the first of its kind."""
    rows = Resource.objects.filter(site=site, kind__in=SHOWN)
    return rows.filter(pk=look.of or 0).first() or rows.filter(kind=look.kind, active=True).first()


def resources_to_see(site: Site) -> list[Resource]:
    """Rooms and people, for picking whose week to see; whoever left the practice is not among them."""
    rows = Resource.objects.filter(site=site, kind__in=SHOWN, active=True)
    return list(rows.order_by("-kind", "position", "name", "pk"))


def links(look: Look, *, today: date, columns: Sequence[Column]) -> dict[str, str]:
    """Where one can go from here; an address that would lead nowhere is empty."""
    step = timedelta(days=7 if look.is_week else 1)
    return {
        "before": look.url(day=look.day - step),
        "after": look.url(day=look.day + step),
        "today": look.url(day=today),
        "by_room": look.url(kind=ResourceKind.ROOM, of=None),
        "by_person": look.url(kind=ResourceKind.PERSON, of=None),
        "as_day": look.url(is_week=False),
        "list": reverse("diary_list", kwargs={"day": look.day.isoformat()}),
        "as_week": look.url(is_week=True),
        **_neighbours(look, columns),
    }


def _neighbours(look: Look, columns: Sequence[Column]) -> dict[str, str]:
    """The columns before and after the one that a narrow screen shows: where they are, and whose they are."""
    chosen = next((number for number, column in enumerate(columns) if column.is_chosen), 0)
    around = {"previous": columns[chosen - 1 : chosen] if chosen else [], "next": columns[chosen + 1 : chosen + 2]}
    found: dict[str, str] = {}
    for way, some in around.items():
        one = next(iter(some), None)
        found[way] = look.url(day=one.day or look.day, of=one.resource_id) if one else ""
        found[f"{way}_name"] = one.name if one else ""
    return found
