"""Sending a patient the link to pick the time of a visit of their case."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.diary import actions as diary
from clinic.diary.models import TimeInvitation
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.casebook.actions.visits import NotAgreedYet
from whitening.casebook.leads import all_have_their_time
from whitening.casebook.wanting import wanted_for
from whitening.cases.access import plan_in_force
from whitening.cases.actions import CaseClosed
from whitening.cases.models import Case, CaseInvitation, VisitPurpose
from whitening.consent.reading import standing


class AllHaveTheirTime(Refusal):
    code = "casebook.all_have_their_time"
    sentence = _("As many sessions as are planned have their time already. To give one another time, move it.")


def invite_to_pick(*, case: Case, purpose: VisitPurpose, user: User, actor: Actor, now: datetime) -> TimeInvitation:
    """Raises CaseClosed; for a session NotAgreedYet, AllHaveTheirTime; NoSuchVisitType; what `invite` raises."""
    if case.closed_at is not None:
        raise CaseClosed
    if purpose == VisitPurpose.SESSION:
        _check_session(case, now)
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


def _check_session(case: Case, now: datetime) -> None:
    plan = plan_in_force(case)
    if plan is None or not standing(case, plan=plan).agreed:
        raise NotAgreedYet
    if all_have_their_time(case, plan, now=now):
        raise AllHaveTheirTime
