"""The patient picks a time for the month review: real openings, one press each."""

from datetime import datetime

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django_stubs_ext import StrOrPromise

from clinic.diary import actions as diary
from clinic.diary import own_changes
from clinic.diary.forms import StartForm
from clinic.diary.models import OwnAct, VisitCode, VisitType
from clinic.diary.openings import Wanted
from clinic.diary.patients_alone import patient_window
from clinic.diary.selfservice.rules import narrowed
from clinic.diary.selfservice.words import PICK_ONE, for_patient
from clinic.diary.views.own_times import times
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.actions import add_visit
from whitening.cases.models import VisitPurpose
from whitening.chairside.models import Session
from whitening.recall import timing
from whitening.recall.kinds import REVIEW
from whitening.recall.timing import Window
from whitening.recall.views.replying import session_of
from whitening.recall.visits import check_not_too_early, review_from, review_visit


@patient(REVIEW, methods=("GET", "POST"))
def review_time(request: PatientRequest) -> HttpResponse:
    """Day 28 to 42 come first by themselves; later days are one press further on."""
    session, at = session_of(request), now()
    booked = review_visit(session.case)
    if booked is not None:
        return render(request, "recall/review_booked.html", {"booking": booked.booking, "site": session.case.site})
    if request.method == "GET":
        return _page(request, session, at, "")
    start, window = StartForm(request.POST), _window(session, at)
    if not start.is_valid() or not window.due_at <= start.cleaned_data["start_at"] < window.until_at:
        return _page(request, session, at, PICK_ONE, status=422)
    try:
        _book(request, session, start.cleaned_data["start_at"], at)
    except Refusal as refusal:
        return _page(request, session, at, for_patient(refusal), status=409)
    return redirect("review_time")


def _book(request: PatientRequest, session: Session, start_at: datetime, at: datetime) -> None:
    visit_type = _visit_type(session)
    if visit_type is None:
        raise diary.OutsideOpeningHours
    # Two presses at once: the second waits here and then finds the visit of the first.
    with diary.one_at_a_time(session.case.patient):
        if review_visit(session.case) is not None:
            return
        check_not_too_early(session.case, start_at=start_at)
        wish = diary.BookingRequest(session.case.patient, visit_type, start_at)
        booking = diary.book(site=session.case.site, request=wish, actor=request.actor, now=at)
        add_visit(case=session.case, booking=booking, purpose=VisitPurpose.REVIEW, actor=request.actor)
        own_changes.note(OwnAct.PICKED, booking, actor=request.actor, now=at)


def _page(
    request: PatientRequest, session: Session, at: datetime, error: StrOrPromise, *, status: int = 200
) -> HttpResponse:
    visit_type, window = _visit_type(session), _window(session, at)
    wanted = Wanted(visit_type, now=at) if visit_type is not None else None
    found = times(request, site=session.case.site, wanted=wanted, between=(window.due_at, window.until_at))
    return render(request, "recall/review_time.html", {"error": error, **found}, status=status)


def _window(session: Session, at: datetime) -> Window:
    due = timing.review_times(session.closed_at or at, session.case.site.zone)
    # A further session that was held or booked since puts the review off for the patient as for the desk.
    first_at = max(at, due.due_at, review_from(session.case) or at)
    visit_type = _visit_type(session)
    if visit_type is None:
        return Window(first_at, due.until_at)
    return Window(*narrowed(patient_window(visit_type, now=at), earliest_at=first_at, latest_at=due.until_at))


def _visit_type(session: Session) -> VisitType | None:
    rows = VisitType.objects.filter(site=session.case.site, code=VisitCode.REVIEW, active=True, patient_may_book=True)
    return rows.select_related("site").order_by("pk").first()
