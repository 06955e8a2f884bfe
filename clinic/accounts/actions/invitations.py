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
from django.utils import translation
from django.utils.translation import gettext

from clinic.accounts import rules
from clinic.accounts.models import Invitation, Membership, Role, Site, User
from clinic.accounts.refusals import AddressTaken, AlreadyInvited, InvitationClosed
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import Actor
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
    address = email.strip().lower()
    if User.objects.filter(email=address).exists():
        raise AddressTaken
    with transaction.atomic():
        # One after the other per practice: the second of two equal invitations finds the first.
        Site.objects.select_for_update().get(pk=site.pk)
        if any(one.is_open(now) for one in Invitation.objects.filter(email=address)):
            raise AlreadyInvited
        token = secrets.token_urlsafe(TOKEN_BYTES)
        invitation = Invitation.objects.create(
            site=site,
            email=address,
            name=name,
            role=role,
            token_hash=hash_of(token),
            invited_by=user,
            invited_at=now,
            expires_at=now + rules.INVITATION_LASTS,
        )
        _record("accounts.person_invited", invitation, actor, {"email": address, "role": str(role)})
        transaction.on_commit(lambda: _send(invitation, token))
    return invitation


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
        user = User.objects.create_user(
            invitation.email,
            person.password,
            name=person.name,
            initials=initials_of(person.name),
            pin_hash=person.pin_hash,
            language=person.language,
        )
        # The link was read in that mailbox, so the address is known to be theirs.
        EmailAddress.objects.create(user=user, email=user.email, primary=True, verified=True)
        Membership.objects.create(user=user, site=invitation.site, role=invitation.role)
        _record("accounts.invitation_accepted", invitation, user.actor, {"user": user.pk})
    return user


def hash_of(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def initials_of(name: str) -> str:
    words = name.split()
    return "".join(word[0].upper() for word in (words if len(words) < 3 else [words[0], words[-1]]))


def _open_at(now: datetime) -> models.QuerySet[Invitation]:
    return Invitation.objects.filter(accepted_at=None, revoked_at=None, expires_at__gt=now)


def _send(invitation: Invitation, token: str) -> None:
    address = settings.PUBLIC_URL + reverse("invitation", kwargs={"token": token})
    with translation.override(settings.LANGUAGE_CODE):
        context = {"invitation": invitation, "address": address}
        EmailMessage(
            subject=gettext("Your sign-in for %(practice)s") % {"practice": invitation.site.practice.name},
            body=render_to_string("accounts/email/invitation.txt", context),
            to=[invitation.email],
        ).send()


def _record(verb: str, invitation: Invitation, actor: Actor, values: dict[str, object]) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("invitation", invitation.pk),
        patient_id=None,
        site_id=invitation.site_id,
        values=values,
    )
