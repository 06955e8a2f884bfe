"""Starting the practice, opening and changing its sites."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import transaction

from clinic.accounts import jurisdictions
from clinic.accounts.actions import invitations
from clinic.accounts.actions.rota import check_on_call
from clinic.accounts.models import Membership, Practice, Role, Site, User
from clinic.accounts.models.places import NOTICE_HOURS, ShortNotice
from clinic.accounts.refusals import ChangedMeanwhile, JurisdictionUnknown, PracticeExists
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.record import record


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteDetails:
    name: str
    timezone: str
    country: str
    currency: str
    jurisdiction: str
    region: str = ""
    address: str = ""
    phone: str = ""
    email: str = ""
    emergency_number: str = ""
    poison_number: str = ""
    out_of_hours_number: str = ""
    notice_hours: int = NOTICE_HOURS
    short_notice: str = ShortNotice.ACCEPT.value
    on_call_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstManager:
    """Comes in by a link when no password is given."""

    name: str
    email: str
    password: str = ""


def start_practice(*, name: str, slug: str, details: SiteDetails, manager: FirstManager, now: datetime) -> str:
    """The one practice, its first site and manager; gives the manager's link, or nothing with a password.

    Raises PracticeExists, and JurisdictionUnknown when none was chosen.
    """
    _check_jurisdiction(details.jurisdiction)
    with transaction.atomic():
        practice, is_new = Practice.objects.get_or_create(pk=1, defaults={"name": name})
        if not is_new:
            raise PracticeExists(name=practice.name)
        _record("accounts.practice_started", ("practice", practice.pk), None, SYSTEM, {"name": name})
        site = _create(practice=practice, slug=slug, details=details, actor=SYSTEM)
        if not manager.password:
            return invitations.invite_first_manager(site=site, email=manager.email, name=manager.name, now=now)
        person = invitations.NewPerson(
            name=manager.name, password=manager.password, pin_hash="", language=settings.LANGUAGE_CODE
        )
        user = invitations.create_person(site=site, email=manager.email, role=Role.MANAGER, person=person)
        _record("accounts.manager_appointed", ("user", user.pk), site, SYSTEM, {"email": user.email})
    return ""


def open_site(*, slug: str, details: SiteDetails, at: Site, user: User, actor: Actor) -> Site:
    """A further site; whoever opens it manages it. `at` is the site where the person is manager already."""
    require(user, Capability.SETUP, at)
    _check_jurisdiction(details.jurisdiction)
    with transaction.atomic():
        site = _create(practice=at.practice, slug=slug, details=details, actor=actor)
        Membership.objects.create(user=user, site=site, role=Role.MANAGER)
    return site


def change_site(*, site: Site, details: SiteDetails, seen_version: int, user: User, actor: Actor) -> Site:
    """Raises ChangedMeanwhile when somebody saved this site after the form was opened.

    Raises NotOfThisSite or MayNotAnswer for a new person on call who would not count; one who is named already, and
    counts no more, keeps nothing else from being saved.
    """
    require(user, Capability.SETUP, site)
    _check_jurisdiction(details.jurisdiction)
    with transaction.atomic():
        held = Site.objects.select_for_update(of=("self",)).get(pk=site.pk)
        if held.version != seen_version:
            raise ChangedMeanwhile
        before = asdict(details_of(held))
        new = asdict(details)
        changes = {name: {"from": value, "to": new[name]} for name, value in before.items() if value != new[name]}
        if not changes:
            return held
        if "on_call_id" in changes and details.on_call_id is not None:
            check_on_call(User.objects.get(pk=details.on_call_id), held)
        for name, value in new.items():
            setattr(held, name, value)
        held.version += 1
        held.save()
        _record("accounts.site_changed", ("site", held.pk), held, actor, changes)
    return held


def details_of(site: Site) -> SiteDetails:
    values: dict[str, Any] = {name: getattr(site, name) for name in SiteDetails.__dataclass_fields__}
    return SiteDetails(**values | {"phone": site.phone.as_e164 if site.phone else ""})


def _check_jurisdiction(code: str) -> None:
    known = jurisdictions.registered()
    if code not in known:
        raise JurisdictionUnknown(code=code, known=", ".join(known))


def _create(*, practice: Practice, slug: str, details: SiteDetails, actor: Actor) -> Site:
    site = Site.objects.create(practice=practice, slug=slug, **asdict(details))
    _record("accounts.site_opened", ("site", site.pk), site, actor, asdict(details))
    return site


def _record(verb: str, subject: tuple[str, int], site: Site | None, actor: Actor, values: Mapping[str, object]) -> None:
    site_id = site.pk if site else None
    record(verb=verb, actor=actor, subject=subject, patient_id=None, site_id=site_id, values=values)
