"""The gate mark of a booking in the diary and on Today: ready, or what is missing, never why."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db.models import Exists, OuterRef
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.diary.actions import MOVABLE
from clinic.diary.marks import Mark
from clinic.diary.models import Booking, Status
from whitening.casebook.facts import ask_of, facts_of_many
from whitening.casebook.gates import Gate, GateFacts, GateState, evaluate, of_review, shut
from whitening.casebook.reading import clinicians
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.recall.visits import day_of_last_session, first_day_if_early
from whitening.screening.models import AnswerSet

_OVER = {Status.FULFILLED, Status.NOSHOW, Status.CANCELLED}


def marks(bookings: Sequence[Booking], user: User, now: datetime) -> dict[int, Mark]:
    """Sessions carry their gates; a consultation whether the answers are there; a review that it is too early.

    Of a closed case, and of a session that runs, nothing is missing any more.
    """
    coming = {one.pk: one for one in bookings if one.status not in _OVER}
    answered = AnswerSet.objects.filter(case=OuterRef("case"))
    marked = (VisitPurpose.CONSULTATION, VisitPurpose.SESSION, VisitPurpose.REVIEW)
    rows = CaseVisit.objects.filter(booking__in=coming, case__closed_at=None, purpose__in=marked)
    visits = list(rows.annotate(answered=Exists(answered), last_on=day_of_last_session()))
    sessions = [visit for visit in visits if visit.purpose == VisitPurpose.SESSION]
    found = {
        visit.booking_id: _answers_mark(visit.case_id, there=visit.answered)
        for visit in visits
        if visit.purpose == VisitPurpose.CONSULTATION
    }
    for visit in visits:
        if visit.purpose == VisitPurpose.REVIEW:
            found |= _review_mark(visit.case_id, coming[visit.booking_id], visit.last_on, user)
    return found | _session_marks(sessions, coming, user)


def _answers_mark(case_id: int, *, there: bool) -> Mark:
    url = reverse("case", args=[case_id])
    return Mark("ready", (), url) if there else Mark("missing", (_("Answers missing"),), url)


def _review_mark(case_id: int, booking: Booking, last_on: date | None, user: User) -> dict[int, Mark]:
    first_on = first_day_if_early(review_on=booking.wall_on, last_on=last_on)
    if first_on is None or booking.status not in MOVABLE:
        return {}
    gate = of_review(booked_on=booking.wall_on, first_on=first_on, booking_id=booking.pk)
    url, move = reverse("case", args=[case_id]), _may_move(booking, [gate], user)
    return {booking.pk: Mark("missing", _lines([gate]), url, move=move)}


def _session_marks(visits: Sequence[CaseVisit], bookings: dict[int, Booking], user: User) -> dict[int, Mark]:
    who = clinicians([bookings[visit.booking_id] for visit in visits])
    asks = [
        ask_of(case_id=visit.case_id, booking=bookings[visit.booking_id], booked=who.get(visit.booking_id))
        for visit in visits
    ]
    return {
        visit.booking_id: _session_mark(visit, bookings[visit.booking_id], facts, user)
        for visit, facts in zip(visits, facts_of_many(asks), strict=True)
        if not facts.is_open_at_the_chair
    }


def _session_mark(visit: CaseVisit, booking: Booking, facts: GateFacts, user: User) -> Mark:
    url = reverse("case", args=[visit.case_id])
    if facts.nothing_left:
        return Mark("note", (_("Every planned session is done: cancel this time"),), url)
    gates = evaluate(facts)
    agreed = facts.signed_this_plan and facts.countersigned and facts.consent_holds
    return Mark(_kind(gates), _lines(gates), url, move=_may_move(booking, gates, user), not_agreed=not agreed)


def _may_move(booking: Booking, gates: Sequence[Gate], user: User) -> bool:
    early = any(gate.booking_id is not None for gate in shut(gates))
    return early and booking.status in MOVABLE and may(user, Capability.DIARY_BOOK, booking.site)


def _kind(gates: Sequence[Gate]) -> str:
    """On the day of the session "ready" means ready to be called in: the chair settles the rest."""
    if shut(gates, beforehand=True):
        return "missing"
    # That a time is only pencilled stands beside it in the diary as its status.
    states = {gate.state for gate in gates if gate.booking_id is None}
    if GateState.WITH_CARE in states:
        return "care"
    return "cleared" if GateState.CLEARED in states else "ready"


def _lines(gates: Sequence[Gate]) -> tuple[str, ...]:
    return tuple(f"{gate.title}: {said}" for gate in shut(gates, beforehand=True) for said in gate.says)
