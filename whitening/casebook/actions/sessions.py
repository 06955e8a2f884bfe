"""Starting a session: every gate is asked once more, at the moment of acting."""

from dataclasses import replace
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.diary.models import Status
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.casebook.facts import ask_of, facts_of_many
from whitening.casebook.gates import evaluate, shut
from whitening.casebook.reading import Booked, clinicians
from whitening.cases.access import plan_in_force
from whitening.cases.actions import CaseClosed
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.chairside.actions import GatesShut, open_session
from whitening.chairside.models import Session
from whitening.screening.grades import Profession

_MAY_START = {Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}


class NotASessionOfToday(Refusal):
    code = "casebook.not_a_session_of_today"
    sentence = _("Only a confirmed session of today can be started. Confirm its time, or move it to today first.")


class NothingLeftToTreat(Refusal):
    code = "casebook.nothing_left_to_treat"
    sentence = _("Every session of the plan is done. Another one needs a changed plan, and the consent to it, first.")


def start_session(*, case: Case, visit: CaseVisit, user: User, actor: Actor, now: datetime) -> Session:
    """Raises CaseClosed, NotASessionOfToday, NothingLeftToTreat, or GatesShut with the names of the shut gates."""
    day = now.astimezone(case.site.zone).date()
    booking = visit.booking
    with transaction.atomic():
        # Locked, so that an answer or a withdrawal that comes in meanwhile is seen or waits.
        held = Case.objects.select_for_update().get(pk=case.pk)
        if held.closed_at is not None:
            raise CaseClosed
        booking.refresh_from_db(fields=["status", "version", "wall_on"])
        if visit.purpose != VisitPurpose.SESSION or booking.status not in _MAY_START or booking.wall_on != day:
            raise NotASessionOfToday
        booked = clinicians([booking]).get(booking.pk)
        ask = ask_of(case_id=case.pk, booking=booking, booked=booked)
        facts = facts_of_many([replace(ask, carried_out_by=_who_treats(booked, user))])[0]
        if facts.nothing_left:
            raise NothingLeftToTreat
        gates = evaluate(facts)
        closed = [gate.title for gate in shut(gates)]
        plan = plan_in_force(case)
        if plan is None:
            raise GatesShut(gates=", ".join(map(str, closed)))
        return open_session(case=case, plan=plan, booking=booking, shut_gates=closed, user=user, actor=actor, now=now)


def _who_treats(booked: Booked | None, user: User) -> Profession:
    """Whoever starts carries it out; an assistant starts for the clinician who is booked."""
    if booked is None or user.may_carry_out or user.may_examine_and_decide:
        return Profession(user.profession)
    return booked.profession
