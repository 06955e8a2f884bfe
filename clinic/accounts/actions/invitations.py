"""Bringing a colleague in: a manager invites, the person sets name, password and PIN."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime

from allauth.account.models import EmailAddress
from django.conf import settings
from django.core.mail import EmailMessage
from django.db import models, transaction
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext

from clinic.accounts import post, rules
from clinic.accounts.languages import speaking
from clinic.accounts.models import Invitation, Membership, Role, Site, User
from clinic.accounts.refusals import AddressTaken, AlreadyInvited, InvitationClosed
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.record import record

TOKEN_BYTES = 32  # 256 bits: nobody guesses it, so trying needs no other brake


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPerson:
    """What the invited person typed."""

    name: str
    password: str
    pin_hash: str
    language: str


def invite(*, site: Site, email: str, name: str, role: Role, user: User, actor: Actor, now: datetime) -> Invitation:
    """Raises NotAllowed, AddressTaken or AlreadyInvited. The mail leaves once the row is committed."""
    require(user, Capability.PEOPLE, site)
    with transaction.atomic():
        # One after the other per site: the second of two equal invitations finds the first.
        Site.objects.select_for_update().get(pk=site.pk)
        invitation, token = _write(site=site, email=email, name=name, role=role, inviter=user, now=now)
        _record("accounts.person_invited", invitation, actor, {"email": invitation.email, "role": str(role)})
        transaction.on_commit(lambda: _send(invitation, token, now=now))
    return invitation


def send_again(*, invitation: Invitation, user: User, actor: Actor, now: datetime) -> None:
    """A new link and three new days; the link before opens nothing any more. Raises InvitationClosed."""
    require(user, Capability.PEOPLE, invitation.site)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    new = {
        "token_hash": hash_of(token),
        "invited_at": now,
        "expires_at": now + rules.INVITATION_LASTS,
        "mailed_at": None,
    }
    with transaction.atomic():
        if not _open_at(now).filter(pk=invitation.pk).update(**new):
            raise InvitationClosed
        _record("accounts.invitation_sent_again", invitation, actor, {"email": invitation.email})
        transaction.on_commit(lambda: _send(invitation, token, now=now))


def invite_first_manager(*, site: Site, email: str, name: str, now: datetime) -> str:
    """The link itself, to be handed over by whoever installs the program: mail may not be set up yet."""
    with transaction.atomic():
        invitation, token = _write(site=site, email=email, name=name, role=Role.MANAGER, inviter=None, now=now)
        _record("accounts.person_invited", invitation, SYSTEM, {"email": invitation.email, "role": str(Role.MANAGER)})
    return address_of(token)


def revoke(*, invitation: Invitation, user: User, actor: Actor, now: datetime) -> None:
    require(user, Capability.PEOPLE, invitation.site)
    with transaction.atomic():
        if not _open_at(now).filter(pk=invitation.pk).update(revoked_at=now):
            raise InvitationClosed
        _record("accounts.invitation_revoked", invitation, actor, {"email": invitation.email})


def find(*, token: str, now: datetime) -> Invitation:
    """The open invitation behind a link; looking at it changes nothing, since mail scanners look too."""
    invitation = _open_at(now).filter(token_hash=hash_of(token)).select_related("site", "site__practice").first()
    if invitation is None:
        raise InvitationClosed
    return invitation


def accept(*, token: str, person: NewPerson, now: datetime) -> User:
    """Single use: of two people with the same link, one gets in."""
    invitation = find(token=token, now=now)
    with transaction.atomic():
        if not _open_at(now).filter(pk=invitation.pk).update(accepted_at=now):
            raise InvitationClosed
        if User.objects.filter(email=invitation.email).exists():
            raise AddressTaken
        user = create_person(site=invitation.site, email=invitation.email, role=Role(invitation.role), person=person)
        _record("accounts.invitation_accepted", invitation, user.actor, {"user": user.pk})
    return user


def create_person(*, site: Site, email: str, role: Role, person: NewPerson) -> User:
    """Part of an action that has recorded why: by an accepted invitation, or as the first manager."""
    user = User.objects.create_user(
        email,
        person.password,
        name=person.name,
        initials=initials_of(person.name),
        pin_hash=person.pin_hash,
        language=person.language,
    )
    # The address is known to be theirs: the link was read in that mailbox, or the installer vouches for it.
    EmailAddress.objects.create(user=user, email=user.email, primary=True, verified=True)
    Membership.objects.create(user=user, site=site, role=role)
    return user


def address_of(token: str) -> str:
    return settings.PUBLIC_URL + reverse("invitation", kwargs={"token": token})


def hash_of(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def initials_of(name: str) -> str:
    words = name.split()
    return "".join(word[0].upper() for word in (words if len(words) < 3 else [words[0], words[-1]]))


def _write(
    *, site: Site, email: str, name: str, role: Role, inviter: User | None, now: datetime
) -> tuple[Invitation, str]:
    address = email.strip().lower()
    if User.objects.filter(email=address).exists():
        raise AddressTaken
    if _open_at(now).filter(email=address).exists():
        raise AlreadyInvited
    token = secrets.token_urlsafe(TOKEN_BYTES)
    invitation = Invitation.objects.create(
        site=site,
        email=address,
        name=name,
        role=role,
        token_hash=hash_of(token),
        invited_by=inviter,
        invited_at=now,
        expires_at=now + rules.INVITATION_LASTS,
    )
    return invitation, token


def _open_at(now: datetime) -> models.QuerySet[Invitation]:
    return Invitation.objects.filter(accepted_at=None, revoked_at=None, expires_at__gt=now)


def _send(invitation: Invitation, token: str, *, now: datetime) -> None:
    with speaking(settings.LANGUAGE_CODE):
        context = {"invitation": invitation, "address": address_of(token)}
        letter = EmailMessage(
            subject=gettext("Your sign-in for %(practice)s") % {"practice": invitation.site.practice.name},
            body=render_to_string("accounts/email/invitation.txt", context),
            to=[invitation.email],
        )
    if post.send(letter):
        Invitation.objects.filter(pk=invitation.pk).update(mailed_at=now)


def _record(verb: str, invitation: Invitation, actor: Actor, values: dict[str, object]) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("invitation", invitation.pk),
        patient_id=None,
        site_id=invitation.site_id,
        values=values,
    )
