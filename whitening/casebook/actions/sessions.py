"""Starting a session: every gate is asked once more, at the moment of acting."""

from datetime import datetime

from django.db import transaction

from clinic.accounts.models import User
from clinic.trail.actor import Actor
from whitening.casebook.facts import gates_of
from whitening.casebook.gates import shut
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, CaseVisit
from whitening.chairside.actions import GatesShut, open_session
from whitening.chairside.models import Session
from whitening.screening.grades import Profession


def start_session(*, case: Case, visit: CaseVisit, user: User, actor: Actor, now: datetime) -> Session:
    """Raises GatesShut with the names of the shut gates. Whoever starts carries it out and must be allowed to."""
    day = now.astimezone(case.site.zone).date()
    with transaction.atomic():
        # Locked, so that an answer or a withdrawal that comes in meanwhile is seen or waits.
        Case.objects.select_for_update().get(pk=case.pk)
        closed = [gate.title for gate in shut(gates_of(case, day=day, carried_out_by=Profession(user.profession)))]
        plan = plan_in_force(case)
        if plan is None:
            raise GatesShut(gates=", ".join(map(str, closed)))
        return open_session(
            case=case, plan=plan, booking=visit.booking, shut_gates=closed, user=user, actor=actor, now=now
        )
