"""Builds the practice itself: site, staff, rooms, lights, hours, visits, products, batches, prices."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.contrib.auth.hashers import make_password

from clinic.accounts.models import Membership, Practice, Role, Site, User
from clinic.diary.actions import make_calendar
from clinic.diary.actions.setting_up import add_resource, add_standard_visits, set_hours
from clinic.diary.models import LightKind, Resource, ResourceKind
from clinic.trail.actor import SYSTEM
from clinic.trail.fields import seal_text
from whitening.cases.models import Basis, Peroxide, Price, Product, ProductKind
from whitening.chairside.actions import LightDetails, Received, check_light, receive_batch, save_light
from whitening.chairside.models import LightUnit
from whitening.demo.world.people import PASSWORD, PIN, STAFF, Colleague

# The same invented secret for everybody in the demo, so that one page can show the running code.
DEMO_TOTP_SECRET = "FERNBROOKDEMOSECRETFERNBROOKDEMO"  # noqa: S105  (printed on the demo's own page)

CHECK_EVERY = timedelta(days=14)


@dataclass(slots=True)
class House:
    """What the loader needs again and again."""

    site: Site
    staff: dict[str, User]
    gel: Product

    def one(self, role: str) -> User:
        return self.staff[f"{role}@example.org"]


def build(*, now: datetime, opened_on: date) -> House:
    practice = Practice.objects.create(pk=1, name="Fernbrook Dental Rooms", website="https://fernbrook.example")
    site = _site(practice)
    staff = {one.email: _hire(site, one) for one in STAFF}
    site.on_call = staff["dentist@example.org"]
    site.save(update_fields=["on_call"])
    manager = staff["manager@example.org"]
    _rooms_and_people(site, staff, manager, opened_on)
    add_standard_visits(site=site, actor=manager.actor)
    gel = _products()
    _batches(site, gel, manager, now)
    _lights(site, manager)
    _calendars(site, manager, now)
    Price.objects.create(site=site, name="Whitening, one session with review", sessions=1, amount=Decimal("390.00"))
    Price.objects.create(site=site, name="Whitening, two sessions with review", sessions=2, amount=Decimal("620.00"))
    house = House(site, staff, gel)
    check_lights(house, now=now)
    return house


def _site(practice: Practice) -> Site:
    return Site.objects.create(
        practice=practice,
        name="Fernbrook Dental Rooms",
        slug="fernbrook",
        address="3 Alder Walk\nFernbrook FB1 2AA",
        phone="+442079460000",
        email="hello@example.org",
        timezone="Europe/London",
        country="GB",
        region="ENG",
        currency="GBP",
        jurisdiction="UK",
        emergency_number="999",
        poison_number="020 7946 0999",
        out_of_hours_number="020 7946 0990",
    )


def _hire(site: Site, one: Colleague) -> User:
    """A colleague who can sign in at once: the demo shows the code that an authenticator app would show."""
    user = User.objects.create_user(
        one.email,
        PASSWORD,
        name=one.name,
        initials=one.initials,
        profession=one.profession,
        registration_number=f"FB-{1000 + STAFF.index(one)}" if one.treats else "",
        may_examine_and_decide=one.dentist,
        may_prescribe=one.dentist,
        may_carry_out=one.treats,
        may_see_clinical_answers=one.treats,
        pin_hash=make_password(PIN),
    )
    EmailAddress.objects.create(user=user, email=one.email, verified=True, primary=True)
    for role in one.roles:
        Membership.objects.create(user=user, site=site, role=role)
    if {Role.CLINICIAN, Role.MANAGER} & set(one.roles):
        sealed = seal_text(DEMO_TOTP_SECRET)
        Authenticator.objects.create(user=user, type=Authenticator.Type.TOTP, data={"secret": sealed})
    return user


def _rooms_and_people(site: Site, staff: dict[str, User], manager: User, opened_on: date) -> None:
    wanted: list[dict[str, object]] = [{"kind": ResourceKind.ROOM, "name": name} for name in ("Willow", "Alder")]
    wanted += [
        {"kind": ResourceKind.PERSON, "name": user.name, "person": user}
        for user in staff.values()
        if user.memberships.filter(role__in=[Role.CLINICIAN, Role.ASSISTANT]).exists()
    ]
    wanted += [
        {"kind": ResourceKind.LIGHT, "name": f"Curing light {number}", "light_kind": LightKind.HAND_HELD}
        for number in (1, 2)
    ]
    for values in wanted:
        set_hours(
            resource=add_resource(site=site, user=manager, actor=SYSTEM, **values),  # type: ignore[arg-type]
            weekdays=range(5),
            from_time=time(8, 30),
            to_time=time(17, 30),
            from_on=opened_on,
            user=manager,
            actor=SYSTEM,
        )


def _calendars(site: Site, manager: User, now: datetime) -> None:
    """A screen outside one room, and the dentist's own telephone. Nobody keeps the secrets of their addresses."""
    dentist = User.objects.get(email="dentist@example.org")
    for name, label, person in (("Willow", "Screen by the door", manager), (dentist.name, "My telephone", dentist)):
        make_calendar(
            resource=site.resources.get(name=name),
            with_initials=False,
            label=label,
            user=person,
            actor=person.actor,
            now=now,
        )


def _products() -> Product:
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
        instructions_revision="revision 3",
    )
    Product.objects.create(
        name="Whitening gel B, 16 % carbamide peroxide",
        kind=ProductKind.GEL,
        peroxide=Peroxide.CARBAMIDE,
        label_percent=Decimal("16.00"),
        label_basis=Basis.AS_USED,
        hp_percent_as_used=Decimal("5.79"),
        cycle_minutes_most=20,
        cycles_most=4,
    )
    for name, kind in (("Gum barrier C", ProductKind.BARRIER), ("Desensitiser D", ProductKind.DESENSITISER)):
        Product.objects.create(name=name, kind=kind, peroxide=Peroxide.NONE, label_basis=Basis.NONE)
    return gel


def _batches(site: Site, gel: Product, manager: User, now: datetime) -> None:
    today = now.date()
    for number, days in (("A-2201", 45), ("A-2307", 400)):
        received = Received(
            product=gel, number=number, expires_on=today + timedelta(days=150 + days), quantity=40, unit="kit"
        )
        receive_batch(site=site, received=received, user=manager, actor=manager.actor, now=now)


def check_lights(house: House, *, now: datetime) -> None:
    """As the practice does it every fortnight; a check that is younger than that is not repeated."""
    nurse = house.one("assistant")
    for unit in LightUnit.objects.filter(resource__site=house.site):
        last = unit.checks.order_by("checked_at").last()
        if last is None or last.checked_at <= now - CHECK_EVERY:
            check_light(unit=unit, output_mw_cm2=1020, distance_mm=5, user=nurse, actor=nurse.actor, now=now)


def _lights(site: Site, manager: User) -> None:
    details = LightDetails(
        output_least_mw_cm2=800,
        output_most_mw_cm2=1500,
        probe_distance_mm=5,
        serial="FB-L",
        heat_warning="Keep it moving.",
    )
    for row in Resource.objects.filter(site=site, kind=ResourceKind.LIGHT):
        save_light(resource=row, details=details, user=manager, actor=manager.actor)
