"""Starting a session: every gate is asked once more, at the moment of acting."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.diary import actions as diary
from clinic.diary.models import Status
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.casebook.facts import gates_of
from whitening.casebook.gates import shut
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, CaseVisit
from whitening.chairside.actions import open_session
from whitening.chairside.models import Session
from whitening.screening.grades import Profession


class GatesShut(Refusal):
    code = "casebook.gates_shut"
    sentence = _("Not yet clear to start: %(gates)s. Settle that first, then start.")


def start_session(*, case: Case, visit: CaseVisit, user: User, actor: Actor, now: datetime) -> Session:
    """Raises GatesShut with the names of the shut gates. Whoever starts carries it out and must be allowed to."""
    day = now.astimezone(case.site.zone).date()
    with transaction.atomic():
        # Locked, so that an answer or a withdrawal that comes in meanwhile is seen or waits.
        Case.objects.select_for_update().get(pk=case.pk)
        closed = shut(gates_of(case, day=day, carried_out_by=Profession(user.profession)))
        if closed:
            raise GatesShut(gates=", ".join(str(gate.title) for gate in closed))
        plan = plan_in_force(case)
        if plan is None:
            raise GatesShut(gates=str(_("Plan")))
        session = open_session(case=case, plan=plan, booking=visit.booking, user=user, actor=actor, now=now)
        if visit.booking.status in {Status.BOOKED, Status.ARRIVED}:
            diary.check_in(booking=visit.booking, actor=actor, now=now)
    return session
