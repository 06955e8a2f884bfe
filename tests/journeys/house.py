"""The cast's practice, furnished: rooms, people, lights, hours, visits, gel, prices. For worlds and for tests.

`fill` is called by tests/furnish.py in the empty database of a world.
"""

from datetime import date, datetime, time, timedelta
from decimal import Decimal

from clinic.accounts.models import Role, Site, User
from clinic.diary.actions.setting_up import add_resource, add_standard_visits, set_hours
from clinic.diary.models import LightKind, Resource, ResourceKind
from clinic.trail.actor import SYSTEM
from clinic.trail.clock import real_now
from tests.cast import Cast, actor_of, open_practice
from whitening.cases.models import Basis, Peroxide, Price, Product, ProductKind
from whitening.chairside.actions import LightDetails, Received, check_light, receive_batch, save_light

OPEN, SHUT = time(8), time(18)


def fill() -> None:
    furnish(open_practice(), now=real_now())


def furnish(cast: Cast, *, now: datetime) -> Product:
    """Everything that a case needs at Fernbrook. Hours hold every day of the week, so that no test depends on one."""
    site = cast.fernbrook
    for resource in _resources(site, cast.manager):
        set_hours(
            resource=resource,
            weekdays=range(7),
            from_time=OPEN,
            to_time=SHUT,
            from_on=date(2020, 1, 1),
            user=cast.manager,
            actor=SYSTEM,
        )
    add_standard_visits(site=site, actor=SYSTEM)
    _check_lights(site, cast, now)
    Price.objects.create(site=site, name="One session with review", amount=Decimal("390.00"))
    return _gel(site, cast.manager, now)


def _resources(site: Site, manager: User) -> list[Resource]:
    wanted: list[dict[str, object]] = [
        {"kind": ResourceKind.ROOM, "name": "Willow"},
        {"kind": ResourceKind.ROOM, "name": "Alder"},
        {"kind": ResourceKind.LIGHT, "name": "Curing light 1", "light_kind": LightKind.HAND_HELD},
        {"kind": ResourceKind.LIGHT, "name": "Curing light 2", "light_kind": LightKind.HAND_HELD},
    ]
    at_the_chair = User.objects.of_site(site).filter(memberships__role__in=[Role.CLINICIAN, Role.ASSISTANT])
    wanted += [{"kind": ResourceKind.PERSON, "name": one.name, "person": one} for one in at_the_chair]
    return [add_resource(site=site, user=manager, actor=SYSTEM, **values) for values in wanted]  # type: ignore[arg-type]


def _check_lights(site: Site, cast: Cast, now: datetime) -> None:
    details = LightDetails(output_least_mw_cm2=800, output_most_mw_cm2=1500, probe_distance_mm=5)
    for resource in Resource.objects.filter(site=site, kind=ResourceKind.LIGHT):
        unit = save_light(resource=resource, details=details, user=cast.manager, actor=actor_of(cast.manager))
        check_light(
            unit=unit,
            output_mw_cm2=1000,
            distance_mm=5,
            user=cast.assistant,
            actor=actor_of(cast.assistant),
            # A world's clock may run ahead by some weeks before the session.
            now=now + timedelta(days=10),
        )


def _gel(site: Site, manager: User, now: datetime) -> Product:
    gel = Product.objects.create(
        name="Whitening gel A, 6 % hydrogen peroxide as used",
        kind=ProductKind.GEL,
        peroxide=Peroxide.HYDROGEN,
        label_percent=Decimal("6.00"),
        label_basis=Basis.AS_USED,
        hp_percent_as_used=Decimal("6.00"),
        needs_mixing=True,
        mix_life_minutes=120,
        cycle_minutes_most=15,
        cycles_most=6,
        light_allowed=True,
    )
    expires_on = now.date() + timedelta(days=400)
    received = Received(product=gel, number="A-1", expires_on=expires_on, quantity=20, unit="kit")
    receive_batch(site=site, received=received, user=manager, actor=actor_of(manager), now=now)
    return gel
