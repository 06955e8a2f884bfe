"""What a manager does about people: their rights and roles, ending and giving access, a lost second factor."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime

from allauth.mfa.models import Authenticator
from django.db import transaction
from django.db.models import F

from clinic.accounts.models import Membership, Role, Site, User
from clinic.accounts.refusals import LastManager, NoFactor, OnCall, OwnAccess
from clinic.accounts.rights import Capability, Right, capabilities, require
from clinic.trail.actor import Actor
from clinic.trail.record import record


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonDetails:
    """What a manager may change of a person; the person's own secrets are not among it."""

    name: str
    initials: str
    profession: str
    registration_number: str
    registration_expires_on: date | None
    indemnity_expires_on: date | None
    phone: str
    may_examine_and_decide: bool
    may_prescribe: bool
    may_carry_out: bool
    may_see_clinical_answers: bool


def change_person(
    *,
    person: User,
    site: Site,
    details: PersonDetails,
    roles: Iterable[Role],
    user: User,
    actor: Actor,
    now: datetime,
) -> User:
    """Raises NotAllowed, OwnAccess, LastManager, or OnCall where somebody else has to be found first."""
    require(user, Capability.PEOPLE, site)
    wanted = frozenset(roles)
    with transaction.atomic():
        held = User.objects.select_for_update().get(pk=person.pk)
        before = _details_of(held), held.roles_at(site)
        if before == (details, wanted):
            return held
        if Role.MANAGER in before[1] - wanted:
            _check_manager_may_go(person=held, site=site, user=user)
        if _may_answer(*before) and not _may_answer(details, wanted) and _is_on_call(held, now, site=site):
            raise OnCall
        for name, value in asdict(details).items():
            setattr(held, name, value)
        held.save(update_fields=list(asdict(details)))
        held.memberships.filter(site=site).exclude(role__in=wanted).delete()
        Membership.objects.bulk_create(Membership(user=held, site=site, role=role) for role in wanted - before[1])
        old, new = _plain(*before), _plain(details, wanted)
        changes = {name: {"from": old[name], "to": new[name]} for name in old if old[name] != new[name]}
        _record("accounts.person_changed", held, site, actor, changes)
    return held


def deactivate(*, person: User, site: Site, user: User, actor: Actor, now: datetime) -> None:
    """Ends access everywhere, and every session at once. What the person did stays in their name."""
    require(user, Capability.PEOPLE, site)
    with transaction.atomic():
        # Locked first, as whoever gives them a turn does: neither then overlooks the other.
        person = User.objects.select_for_update().get(pk=person.pk)
        if _is_on_call(person, now):
            raise OnCall
        if Role.MANAGER in person.roles_at(None) or person.pk == user.pk:
            _check_manager_may_go(person=person, site=site, user=user)
        User.objects.filter(pk=person.pk).update(is_active=False, sessions_ended=F("sessions_ended") + 1)
        _record("accounts.person_deactivated", person, site, actor, {})


def reactivate(*, person: User, site: Site, user: User, actor: Actor) -> None:
    require(user, Capability.PEOPLE, site)
    with transaction.atomic():
        User.objects.filter(pk=person.pk).update(is_active=True, pin_failures=0)
        _record("accounts.person_reactivated", person, site, actor, {})


def reset_factor(*, person: User, site: Site, user: User, actor: Actor) -> None:
    """The lost phone opens nothing any more, all sessions end, and the next sign-in leads to a new set-up."""
    require(user, Capability.PEOPLE, site)
    if person.pk == user.pk:
        raise OwnAccess
    with transaction.atomic():
        gone, _by_model = Authenticator.objects.filter(user=person).delete()
        if not gone:
            raise NoFactor
        User.objects.filter(pk=person.pk).update(sessions_ended=F("sessions_ended") + 1)
        _record("accounts.factor_reset", person, site, actor, {})


def choose_language(*, user: User, language: str) -> None:
    """A convenience of the person's own, so the trail need not know."""
    User.objects.filter(pk=user.pk).update(language=language)


def _check_manager_may_go(*, person: User, site: Site, user: User) -> None:
    if person.pk == user.pk:
        raise OwnAccess
    # Locked, so that two managers cannot take the role from each other in the same moment.
    managers = Membership.objects.select_for_update().filter(site=site, role=Role.MANAGER, user__is_active=True)
    if {membership.user_id for membership in managers} <= {person.pk}:
        raise LastManager


def _may_answer(details: PersonDetails, roles: Iterable[Role]) -> bool:
    return Capability.REPLIES_READ in capabilities(roles, [right for right in Right if getattr(details, right)])


def _is_on_call(person: User, now: datetime, *, site: Site | None = None) -> bool:
    """Now or on a day to come; at any site, unless one is named."""
    sites, turns = Site.objects.filter(on_call=person), person.on_call_turns.filter(until_at__gt=now)
    if site is not None:
        sites, turns = sites.filter(pk=site.pk), turns.filter(site=site)
    return sites.exists() or turns.exists()


def _details_of(person: User) -> PersonDetails:
    values = {name: getattr(person, name) for name in PersonDetails.__dataclass_fields__}
    return PersonDetails(**values | {"phone": person.phone.as_e164 if person.phone else ""})


def _plain(details: PersonDetails, roles: Iterable[Role]) -> dict[str, object]:
    plain = {name: str(value) if isinstance(value, date) else value for name, value in asdict(details).items()}
    return plain | {"roles": sorted(roles)}


def _record(verb: str, person: User, site: Site, actor: Actor, values: Mapping[str, object]) -> None:
    record(verb=verb, actor=actor, subject=("user", person.pk), patient_id=None, site_id=site.pk, values=values)
