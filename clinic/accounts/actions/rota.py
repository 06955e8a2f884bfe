"""Turns on call: written down and taken out by a manager of the site."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import moment_words
from clinic.accounts.models import OnCallTurn, Site, User
from clinic.accounts.rights import Capability, require
from clinic.accounts.rota import FURTHEST_AHEAD, LONGEST_AGO, may_answer
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal


class TurnsOverlap(Refusal):
    code = "accounts.turns_overlap"
    sentence = _(
        "%(name)s is on call from %(start)s to %(end)s already. Let this turn begin or end there, or take that one out."
    )


class TurnEndsTooSoon(Refusal):
    code = "accounts.turn_ends_too_soon"
    sentence = _("The turn ends before it begins, or is over already. Look at the two days and times again.")


class TurnTooFarAway(Refusal):
    code = "accounts.turn_too_far_away"
    sentence = _("A turn begins at most a month ago and ends within two years. Look at the year again.")


class NotOfThisSite(Refusal):
    code = "accounts.not_of_this_site"
    sentence = _("Only somebody who works at this site can be on call here.")


class MayNotAnswer(Refusal):
    code = "accounts.may_not_answer"
    sentence = _("%(name)s may not read what patients answer at this site. Choose somebody whose role includes it.")


def add_turn(
    *, site: Site, person: User, from_at: datetime, until_at: datetime, user: User, actor: Actor, now: datetime
) -> OnCallTurn:
    require(user, Capability.SETUP, site)
    if until_at <= max(from_at, now):
        raise TurnEndsTooSoon
    if from_at < now - LONGEST_AGO or until_at > now + FURTHEST_AHEAD:
        raise TurnTooFarAway
    with transaction.atomic():
        # One at a time at a site, so that two managers cannot give the same night to two people.
        Site.objects.select_for_update(of=("self",)).get(pk=site.pk)
        check_on_call(person, site)
        other = OnCallTurn.objects.filter(site=site).touching(from_at, until_at).select_related("person").first()
        if other is not None:
            start, end = (moment_words(at, site.zone) for at in (other.from_at, other.until_at))
            raise TurnsOverlap(name=other.person.name, start=start, end=end)
        turn = OnCallTurn.objects.create(site=site, person=person, from_at=from_at, until_at=until_at)
        _record("accounts.turn_added", turn, actor)
    return turn


def check_on_call(person: User, site: Site) -> None:
    """Locked, so that their role at the site does not change in the same moment."""
    held = User.objects.select_for_update().get(pk=person.pk)
    if not held.is_active or not held.roles_at(site):
        raise NotOfThisSite
    if not may_answer(held, site):
        raise MayNotAnswer(name=held.name)


def remove_turn(*, turn: OnCallTurn, user: User, actor: Actor) -> None:
    require(user, Capability.SETUP, turn.site)
    with transaction.atomic():
        _record("accounts.turn_removed", turn, actor)
        turn.delete()


def _record(verb: str, turn: OnCallTurn, actor: Actor) -> None:
    values = {"person": turn.person_id, "from_at": turn.from_at.isoformat(), "until_at": turn.until_at.isoformat()}
    record(
        verb=verb,
        actor=actor,
        subject=("on_call_turn", turn.pk),
        patient_id=None,
        site_id=turn.site_id,
        values=values,
    )
