"""The waiting list asks whether a case would be clear to start by a day; a visit that comes from it joins its case."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from django.db.models import prefetch_related_objects
from django.utils.translation import gettext as _

from clinic.accounts.models import User
from clinic.diary.models import COMING, Booking, Status, VisitCode, WaitingWish
from clinic.diary.waitlist.clearing import Ask, Clear
from clinic.diary.waitlist.needing import Needed
from clinic.trail.actor import Actor
from whitening.casebook import facts
from whitening.casebook.actions.visits import check_distance, next_session_number
from whitening.casebook.gates import Gate, evaluate, shut
from whitening.casebook.one_more import room_of
from whitening.casebook.wanting import CODES, needed_for
from whitening.cases.access import plan_in_force
from whitening.cases.actions import add_visit
from whitening.cases.models import Case, VisitPurpose
from whitening.screening.grades import Profession

PURPOSES = {code: purpose for purpose, code in CODES.items()}
# Of these a case has one at a time, so another one joins it only where none stands.
_ONE = {VisitPurpose.CONSULTATION, VisitPurpose.REVIEW}
NOT_THEN = Clear(is_clear=False, may_be=False)


def clear_by(asks: Sequence[Ask], now: datetime) -> Mapping[Ask, Clear]:
    """Of sessions: the gates that can be settled before the day. The day's own gates wait for the day."""
    sessions = [ask for ask in asks if ask.wish.visit_type.code == VisitCode.TREATMENT]
    cases = _open_cases(ask.wish.patient_id for ask in sessions)
    known = [(ask, cases[ask.wish.patient_id]) for ask in sessions if ask.wish.patient_id in cases]
    found = facts.facts_of_many([_as_of(ask, case) for ask, case in known])
    # Of a visit that is moved up the diary itself asks from when on it may be.
    room = room_of({case for ask, case in known if ask.wish.booking_id is None}, now=now)
    clear = {
        ask: _clear(evaluate(one)) if case.pk not in room or room[case.pk].has(ask.day) else NOT_THEN
        for (ask, case), one in zip(known, found, strict=True)
    }
    # A session without a case is far from ready, and says so.
    return {ask: clear.get(ask, Clear(is_clear=False, words=_("no case yet"))) for ask in sessions}


def planned_for(wishes: Sequence[WaitingWish]) -> Mapping[int, Needed]:
    """Sessions of an open case that has a plan: their length and light come from it, as when the desk books them."""
    sessions = [wish for wish in wishes if wish.visit_type.code == VisitCode.TREATMENT]
    cases = _open_cases(wish.patient_id for wish in sessions)
    prefetch_related_objects(list(cases.values()), "plans")
    plans = {patient: plan for patient, case in cases.items() if (plan := plan_in_force(case)) is not None}
    return {wish.pk: needed_for(plans[wish.patient_id]) for wish in sessions if wish.patient_id in plans}


def take_in(booking: Booking, actor: Actor, now: datetime) -> None:
    """The visit belongs to the patient's open case, where that has use for it."""
    purpose = PURPOSES.get(VisitCode(booking.visit_type.code))
    case = _open_cases([booking.patient_id]).get(booking.patient_id)
    if purpose is None or case is None:
        return
    others = case.visits.filter(purpose=purpose, booking__status__in=[*COMING, Status.FULFILLED])
    if purpose in _ONE and others.exists():
        return
    number = None
    if purpose == VisitPurpose.SESSION:
        check_distance(case, booking.wall_on, now)
        number = next_session_number(case)
    add_visit(case=case, booking=booking, purpose=purpose, actor=actor, session_number=number)


def _open_cases(patients: Iterable[int]) -> dict[int, Case]:
    """The newest open one of each patient."""
    rows = Case.objects.filter(patient__in=set(patients), closed_at=None).select_related("site", "patient")
    return {case.patient_id: case for case in rows.order_by("opened_at", "pk")}


def _as_of(ask: Ask, case: Case) -> facts.Ask:
    profession, lapsed = _who(ask.clinician, ask)
    return facts.Ask(case_id=case.pk, day=ask.day, carried_out_by=profession, lapsed=lapsed)


def _who(clinician: User | None, ask: Ask) -> tuple[Profession | None, tuple[str, ...]]:
    if clinician is None:
        return None, ()
    return Profession(clinician.profession), () if clinician.in_date(ask.day) else (clinician.name,)


def _clear(gates: Sequence[Gate]) -> Clear:
    """Only which gates are shut, never why: the words stand on the desk's page."""
    still = shut(gates, beforehand=True)
    if not still:
        return Clear(is_clear=True, words=_("clear to start: consent signed, questions answered"))
    titles = ", ".join(str(gate.title) for gate in still)
    return Clear(is_clear=False, words=_("not clear to start yet: %(gates)s") % {"gates": titles})
