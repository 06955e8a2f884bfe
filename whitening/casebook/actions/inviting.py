"""Sending a patient the link to pick the time of a visit of their case."""

from datetime import datetime

from django.db import transaction

from clinic.accounts.models import User
from clinic.diary import actions as diary
from clinic.diary.models import TimeInvitation
from clinic.trail.actor import Actor
from whitening.casebook.actions.visits import NotAgreedYet
from whitening.casebook.wanting import wanted_for
from whitening.cases.actions import CaseClosed
from whitening.cases.models import Case, CaseInvitation, VisitPurpose
from whitening.consent.reading import standing


def invite_to_pick(*, case: Case, purpose: VisitPurpose, user: User, actor: Actor, now: datetime) -> TimeInvitation:
    """Raises CaseClosed, NotAgreedYet for a session, NoSuchVisitType, and what the diary's `invite` raises."""
    if case.closed_at is not None:
        raise CaseClosed
    if purpose == VisitPurpose.SESSION and not standing(case).agreed:
        raise NotAgreedYet
    wanted = wanted_for(case, purpose)
    with transaction.atomic():
        invitation = diary.invite(
            patient=case.patient,
            visit_type=wanted.visit_type,
            cycles=wanted.cycles,
            light_kind=wanted.light_kind,
            is_agreed=True,
            user=user,
            actor=actor,
            now=now,
        )
        CaseInvitation.objects.update_or_create(invitation=invitation, defaults={"case": case, "purpose": purpose})
    return invitation
