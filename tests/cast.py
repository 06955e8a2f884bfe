"""The people of every test: one practice with two sites, its staff, and patients who are made when first asked for.

All of them are invented; telephone numbers lie in ranges that are kept free for fiction.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cached_property

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.contrib.auth.hashers import make_password
from django.test import Client

from clinic.accounts.models import Membership, Practice, Profession, Role, Site, User
from clinic.accounts.sessions import FACTOR, SITE
from clinic.patients.actions import Details, register_patient
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.fields import seal_text

# A Tuesday morning in winter time; no clock changes within three weeks of it.
NOW = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
PASSWORD = "a long walk by the canal"
PIN = "4827"
# The secret that RFC 6238 uses for its test values ("12345678901234567890"), in base 32.
TOTP_SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"


def actor_of(user: User) -> Actor:
    return user.actor


@dataclass
class Cast:
    """Short names for whom a test is about; see `hire` for who they are."""

    practice: Practice
    fernbrook: Site
    alderton: Site
    desk: User
    assistant: User
    clinician: User
    hygienist: User
    manager: User
    elsewhere: User

    @cached_property
    def patient(self) -> Patient:
        """An adult who is registered at Fernbrook, where most tests happen."""
        details = Details(
            name="Amara Nwosu", birth_on=date(1990, 5, 17), email="amara@example.org", phone="+442079460101"
        )
        return self._register(self.fernbrook, self.desk, details)

    @cached_property
    def teenager(self) -> Patient:
        """Seventeen on NOW, eighteen on 12 August: nothing may be planned before."""
        details = Details(name="Jip de Wit", birth_on=date(2008, 8, 12), phone="+442079460102")
        return self._register(self.fernbrook, self.desk, details)

    @cached_property
    def stranger(self) -> Patient:
        """Registered at Alderton only: for everybody at Fernbrook this person does not exist."""
        details = Details(name="Søren Óskarsson", birth_on=date(1971, 1, 31), email="soren@example.org")
        return self._register(self.alderton, self.elsewhere_desk, details)

    @cached_property
    def elsewhere_desk(self) -> User:
        """The front desk of Alderton, who registers people there."""
        return hire(self.alderton, Role.DESK, name="Wei Ling Tan", email="wei@example.org")

    def _register(self, site: Site, user: User, details: Details) -> Patient:
        return register_patient(site=site, details=details, user=user, actor=actor_of(user), now=NOW)


def open_practice() -> Cast:
    practice = Practice.objects.create(pk=1, name="Fernbrook Dental Rooms")
    fernbrook = open_site(practice, name="Fernbrook", slug="fernbrook")
    alderton = open_site(practice, name="Alderton", slug="alderton")
    everything = {
        "profession": Profession.DENTIST,
        "registration_number": "TEST-1001",
        "may_examine_and_decide": True,
        "may_prescribe": True,
        "may_carry_out": True,
        "may_see_clinical_answers": True,
    }
    cast = Cast(
        practice=practice,
        fernbrook=fernbrook,
        alderton=alderton,
        # Takes the calls; reads no answers, photographs or findings.
        desk=hire(fernbrook, Role.DESK, name="Dana Popescu", email="dana@example.org"),
        # Hands over and writes down at the chair; decides nothing.
        assistant=hire(
            fernbrook, Role.ASSISTANT, name="Ari Zieliński", email="ari@example.org", profession=Profession.NURSE
        ),
        # A dentist with every right there is.
        clinician=hire(fernbrook, Role.CLINICIAN, name="Cleo Haddad", email="cleo@example.org", **everything),
        # A clinician who may carry out what a dentist has decided, and no more.
        hygienist=hire(
            fernbrook,
            Role.CLINICIAN,
            name="Hugo Weber",
            email="hugo@example.org",
            profession=Profession.HYGIENIST,
            may_carry_out=True,
        ),
        # Sets up, invites, reads the trail; takes no clinical decision.
        manager=hire(fernbrook, Role.MANAGER, name="Mara O’Neill", email="mara@example.org"),
        # A dentist with every right, at the other site only.
        elsewhere=hire(alderton, Role.CLINICIAN, name="Noor Bianchi", email="noor@example.org", **everything),
    )
    for site, person in ((fernbrook, cast.clinician), (alderton, cast.elsewhere)):
        site.on_call = person
        site.save(update_fields=["on_call"])
    return cast


def open_site(practice: Practice, *, name: str, slug: str) -> Site:
    return Site.objects.create(
        practice=practice,
        name=name,
        slug=slug,
        address=f"1 {name} Street, Fernbrook",
        phone="+442079460100",
        email=f"{slug}@example.org",
        timezone="Europe/London",
        country="GB",
        currency="GBP",
        jurisdiction="UK",
        emergency_number="999",
        poison_number="111",
        out_of_hours_number="+442079460199",
    )


def hire(site: Site, role: Role, *, name: str, email: str, **fields: object) -> User:
    initials = "".join(word[0] for word in name.split()[:2])
    user = User.objects.create_user(
        email, PASSWORD, name=name, initials=initials, pin_hash=make_password(PIN), **fields
    )
    EmailAddress.objects.create(user=user, email=email, primary=True, verified=True)
    Membership.objects.create(user=user, site=site, role=role)
    if role in {Role.CLINICIAN, Role.MANAGER}:
        # Without a second factor they would be sent to enrol before they see any page.
        data = {"secret": seal_text(TOTP_SECRET)}
        Authenticator.objects.create(user=user, type=Authenticator.Type.TOTP, data=data)
    return user


def works_also(user: User, site: Site, role: Role) -> User:
    """The same person, who has this role at the site besides what they are elsewhere."""
    Membership.objects.create(user=user, site=site, role=role)
    return User.objects.get(pk=user.pk)


def sign_in(user: User, client: Client | None = None, *, screen: Site | None = None) -> Client:
    """A browser of this person's own, as after a full sign-in: second factor shown, screen unlocked.

    screen: the site they look at, where they work at more than one.
    """
    client = client or Client()
    client.force_login(user)
    session = client.session
    session[FACTOR] = True
    if screen is not None:
        session[SITE] = screen.pk
    session.save()
    return client
