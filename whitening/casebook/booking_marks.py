"""The gate mark of a booking in the diary and on Today: ready, or what is missing, never why."""

from collections.abc import Sequence
from datetime import datetime

from django.urls import reverse

from clinic.accounts.models import User
from clinic.diary.marks import Mark
from clinic.diary.models import Booking, Status
from whitening.casebook.facts import gates_of
from whitening.casebook.gates import Gate, GateState, shut
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.screening.grades import Profession

_OVER = {Status.FULFILLED, Status.NOSHOW, Status.CANCELLED}


def marks(bookings: Sequence[Booking], user: User, now: datetime) -> dict[int, Mark]:
    """Sessions carry their gates; a consultation carries whether the answers are there."""
    visits = CaseVisit.objects.filter(booking__in=[one.pk for one in bookings if one.status not in _OVER])
    rows = visits.select_related("case__site", "case__patient", "booking").filter(
        purpose__in=[VisitPurpose.CONSULTATION, VisitPurpose.SESSION]
    )
    return {visit.booking_id: _mark(visit, now) for visit in rows}


def _mark(visit: CaseVisit, now: datetime) -> Mark:
    url = reverse("case", args=[visit.case_id])
    if visit.purpose == VisitPurpose.CONSULTATION:
        answered = visit.case.answer_sets.exists()
        return Mark("ready", (), url) if answered else Mark("missing", (), url)
    gates = gates_of(visit.case, day=visit.booking.wall_on, carried_out_by=_profession(visit))
    return Mark(_kind(gates), _lines(gates), url)


def _kind(gates: Sequence[Gate]) -> str:
    """On the day of the session "ready" means ready to be called in: the chair settles the rest."""
    if shut(gates, beforehand=True):
        return "missing"
    states = {gate.state for gate in gates}
    if GateState.WITH_CARE in states:
        return "care"
    return "cleared" if GateState.CLEARED in states else "ready"


def _lines(gates: Sequence[Gate]) -> tuple[str, ...]:
    return tuple(f"{gate.title}: {said}" for gate in shut(gates, beforehand=True) for said in gate.says)


def _profession(visit: CaseVisit) -> Profession | None:
    claim = visit.booking.claims.filter(need="clinician").select_related("resource__person").first()
    person = claim.resource.person if claim else None
    return Profession(person.profession) if person else None
