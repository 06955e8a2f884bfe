"""The patient picks a time for the month review: real openings, one press each."""

from datetime import datetime, timedelta

from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.diary import actions as diary
from clinic.diary import openings
from clinic.diary.forms import StartForm
from clinic.diary.models import Status, VisitCode, VisitType
from clinic.diary.openings import Openings, Wanted
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.actions import add_visit
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.chairside.models import Session
from whitening.recall import timing
from whitening.recall.kinds import REVIEW
from whitening.recall.views.replying import session_of

SHOWN = 10
COMING = [Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN]


@patient(REVIEW, methods=("GET", "POST"))
def review_time(request: PatientRequest) -> HttpResponse:
    """Day 28 to 42 first; later times when there is nothing free in it."""
    session, at = session_of(request), now()
    booked = _booked(session)
    if booked is not None:
        return render(request, "recall/review_booked.html", {"booking": booked.booking, "site": session.case.site})
    if request.method == "GET":
        return _page(request, session, at, "")
    start = StartForm(request.POST)
    visit_type = _visit_type(session)
    if not start.is_valid() or visit_type is None:
        return _page(request, session, at, _("Pick one of the free times."), status=422)
    wish = diary.BookingRequest(session.case.patient, visit_type, start.cleaned_data["start_at"])
    try:
        with transaction.atomic():
            booking = diary.book(site=session.case.site, request=wish, actor=request.actor, now=at)
            add_visit(case=session.case, booking=booking, purpose=VisitPurpose.REVIEW, actor=request.actor)
    except Refusal as refusal:
        return _page(request, session, at, str(refusal), status=409)
    return redirect("review_time")


def _page(request: PatientRequest, session: Session, at: datetime, error: str, *, status: int = 200) -> HttpResponse:
    context = {"openings": _openings(session, at), "error": error, "site": session.case.site}
    return render(request, "recall/review_time.html", context, status=status)


def _openings(session: Session, at: datetime) -> Openings:
    visit_type = _visit_type(session)
    if visit_type is None or session.closed_at is None:
        return Openings([])
    first_at = max(at, session.closed_at + timedelta(days=timing.REVIEW_FIRST_DAY))
    last_at = max(session.closed_at + timedelta(days=timing.REVIEW_PAGE_UNTIL), first_at + timedelta(days=14))
    site = session.case.site
    return openings.find(site=site, wanted=Wanted(visit_type), earliest_at=first_at, latest_at=last_at, limit=SHOWN)


def _visit_type(session: Session) -> VisitType | None:
    rows = VisitType.objects.filter(site=session.case.site, code=VisitCode.REVIEW, active=True, patient_may_book=True)
    return rows.order_by("pk").first()


def _booked(session: Session) -> CaseVisit | None:
    visits = session.case.visits.filter(purpose=VisitPurpose.REVIEW, booking__status__in=COMING)
    return visits.select_related("booking__site", "booking__patient").order_by("booking__starts_at").last()
