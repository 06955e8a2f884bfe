"""A furnished diary: two rooms, people, two lights, nine to five on weekdays, the usual visits."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from clinic.accounts.models import Role, Site, User
from clinic.diary import actions
from clinic.diary.actions.setting_up import add_resource, add_standard_visits, set_hours
from clinic.diary.models import Booking, LightKind, Resource, ResourceKind, VisitCode, VisitType
from clinic.patients.actions import Details, register_patient
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of, hire
from tests.remembered import remembered

SINCE = date(2020, 1, 1)
# The Wednesday after NOW.
DAY = date(2026, 3, 4)


@remembered
def furnish(cast: Cast) -> None:
    """Willow and Alder, the clinician, the assistant and a second of each, a hand-held and an arch light."""
    second = hire(
        cast.fernbrook,
        Role.CLINICIAN,
        name="Bo Lindqvist",
        email="bo@example.org",
        may_examine_and_decide=True,
        may_carry_out=True,
    )
    helper = hire(cast.fernbrook, Role.ASSISTANT, name="Tam Nguyen", email="tam@example.org")
    for name in ("Willow", "Alder"):
        add(cast, ResourceKind.ROOM, name=name)
    for person in (cast.clinician, second, cast.assistant, helper):
        add(cast, ResourceKind.PERSON, name=person.name, person=person)
    add(cast, ResourceKind.LIGHT, name="Lamp 1", light_kind=LightKind.HAND_HELD)
    add(cast, ResourceKind.LIGHT, name="Arch 1", light_kind=LightKind.ARCH)
    add_standard_visits(site=cast.fernbrook, actor=actor_of(cast.manager))


def add(
    cast: Cast, kind: ResourceKind, *, hours: tuple[time, time] | None = (time(9), time(17)), **more: Any
) -> Resource:
    who: dict[str, Any] = {"user": cast.manager, "actor": actor_of(cast.manager)}
    resource = add_resource(site=cast.fernbrook, kind=kind, **more, **who)
    if hours:
        set_hours(resource=resource, weekdays=range(5), from_time=hours[0], to_time=hours[1], from_on=SINCE, **who)
    return resource


def resource(name: str) -> Resource:
    return Resource.objects.get(name=name)


def visit(code: str = VisitCode.CONSULTATION) -> VisitType:
    return VisitType.objects.get(code=code, site__slug="fernbrook")


def at(hour: int, minute: int = 0, day: date = DAY) -> datetime:
    """Winter time in London is UTC."""
    return datetime.combine(day, time(hour, minute), tzinfo=UTC)


def another_patient(cast: Cast, number: int = 1) -> Patient:
    details = Details(name=f"Ines Costa {number}", birth_on=date(1980, 1, 1), email=f"ines{number}@example.org")
    return register_patient(site=cast.fernbrook, details=details, user=cast.desk, actor=actor_of(cast.desk), now=NOW)


def book(cast: Cast, start_at: datetime, *, code: str = VisitCode.CONSULTATION, **changes: Any) -> Booking:
    site: Site = cast.fernbrook
    patient = changes.pop("patient", None) or cast.patient
    tell = changes.pop("tell", True)
    now = changes.pop("now", NOW)
    request = actions.BookingRequest(patient, visit(code), start_at, **changes)
    return actions.book(site=site, request=request, actor=actor_of(cast.desk), now=now, tell=tell)


def pencil(cast: Cast, start_at: datetime, **changes: Any) -> Booking:
    given: dict[str, Any] = {"code": VisitCode.TREATMENT, "cycles": 4, "lapses_at": NOW + timedelta(days=1)}
    return book(cast, start_at, **given | changes)


def elsewhere_booking(cast: Cast) -> Booking:
    """A visit at the other site, which nobody at Fernbrook may see."""
    owner: User = cast.elsewhere
    manager = hire(cast.alderton, Role.MANAGER, name="Max Elsewhere", email="max@example.org")
    who: dict[str, Any] = {"user": manager, "actor": actor_of(manager)}
    for kind, more in ((ResourceKind.ROOM, {"name": "Ash"}), (ResourceKind.PERSON, {"name": "N", "person": owner})):
        made = add_resource(site=cast.alderton, kind=kind, **more, **who)
        set_hours(resource=made, weekdays=range(5), from_time=time(9), to_time=time(17), from_on=SINCE, **who)
    add_standard_visits(site=cast.alderton, actor=manager.actor)
    kind_of_visit = VisitType.objects.get(code=VisitCode.CONSULTATION, site=cast.alderton)
    request = actions.BookingRequest(cast.stranger, kind_of_visit, at(10))
    return actions.book(site=cast.alderton, request=request, actor=owner.actor, now=NOW)
