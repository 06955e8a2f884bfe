"""The patient picks a time for the month review: real openings, one press each."""

from datetime import date, datetime, time, timedelta

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.diary import actions as diary
from clinic.diary import openings
from clinic.diary.engine.working import instant
from clinic.diary.forms import StartForm
from clinic.diary.models import VisitCode, VisitType
from clinic.diary.openings import Opening, Wanted
from clinic.diary.patients_alone import patient_window
from clinic.diary.selfservice.rules import narrowed
from clinic.diary.selfservice.words import for_patient
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

# Few enough for a small screen, spread so that mornings and afternoons of several days are among them.
DAYS_SHOWN, TIMES_A_DAY = 4, 3
LONG_DAY = 100


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
        return _page(request, session, at, _("Pick one of the free times."), status=422)
    try:
        _book(request, session, start.cleaned_data["start_at"], at)
    except Refusal as refusal:
        return _page(request, session, at, str(for_patient(refusal)), status=409)
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


def _page(request: PatientRequest, session: Session, at: datetime, error: str, *, status: int = 200) -> HttpResponse:
    days = _days(session, _window(session, at), _asked_day(request), at)
    more_from = days[-1][0] + timing.DAY if len(days) == DAYS_SHOWN else None
    context = {"days": days, "more_from": more_from, "error": error, "site": session.case.site}
    return render(request, "recall/review_time.html", context, status=status)


def _window(session: Session, at: datetime) -> Window:
    times = timing.review_times(session.closed_at or at, session.case.site.zone)
    # A further session that was held or booked since puts the review off for the patient as for the desk.
    first_at = max(at, times.due_at, review_from(session.case) or at)
    visit_type = _visit_type(session)
    if visit_type is None:
        return Window(first_at, times.until_at)
    return Window(*narrowed(patient_window(visit_type, now=at), earliest_at=first_at, latest_at=times.until_at))


def _days(session: Session, window: Window, from_on: date | None, at: datetime) -> list[tuple[date, list[Opening]]]:
    """The next days with free times, each with a few of them."""
    visit_type, site = _visit_type(session), session.case.site
    if visit_type is None:
        return []
    day, last_on = timing.local_day(window.due_at, site.zone), timing.local_day(window.until_at, site.zone)
    day = max(day, from_on) if from_on else day
    found: list[tuple[date, list[Opening]]] = []
    while day < last_on and len(found) < DAYS_SHOWN:
        start_at, end_at = (instant(one, time(0), site.zone) for one in (day, day + timing.DAY))
        times = openings.find(
            site=site,
            wanted=Wanted(visit_type, now=at),
            earliest_at=max(start_at, window.due_at),
            latest_at=end_at,
            limit=LONG_DAY,
        ).found
        if times:
            found.append((day, _spread(times)))
        day += timedelta(days=1)
    return found


def _spread(times: list[Opening]) -> list[Opening]:
    """The first, the middle and the last of a day."""
    if len(times) <= TIMES_A_DAY:
        return times
    last = len(times) - 1
    return [times[last * number // (TIMES_A_DAY - 1)] for number in range(TIMES_A_DAY)]


def _asked_day(request: PatientRequest) -> date | None:
    try:
        return date.fromisoformat(request.GET.get("from_on", ""))
    except ValueError:
        return None


def _visit_type(session: Session) -> VisitType | None:
    rows = VisitType.objects.filter(site=session.case.site, code=VisitCode.REVIEW, active=True, patient_may_book=True)
    return rows.select_related("site").order_by("pk").first()
