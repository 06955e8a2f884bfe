"""Find a time for a visit of a case: the diary's openings, one press away; and confirm a pencilled session."""

from datetime import date, datetime, timedelta

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import openings
from clinic.diary.forms import SEARCH_DAYS, StartForm
from clinic.diary.models import COMING
from clinic.diary.openings import Openings
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.casebook.actions import VisitWish, book_visit, confirm_pencilled, wanted_for
from whitening.casebook.lead_times import earliest_for, not_before_on
from whitening.cases.access import access_case
from whitening.cases.models import Case, VisitPurpose

FARTHEST_DAYS = 730  # nobody books two years ahead; a mistyped year would only search in vain


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def find(request: StaffRequest, pk: int, purpose: str) -> HttpResponse:
    case = access_case(user=request.user, pk=pk)
    if purpose not in VisitPurpose.values:
        raise Http404
    wish_for, at = VisitPurpose(purpose), now()
    if request.method == "GET":
        return _page(request, case, wish_for, at, "")
    start = StartForm(request.POST)
    if not start.is_valid():
        return _page(request, case, wish_for, at, _("Pick one of the free times."), status=422)
    try:
        visit = book_visit(
            case=case, wish=VisitWish(wish_for, start.cleaned_data["start_at"]), actor=request.actor, now=at
        )
    except Refusal as refusal:
        return _page(request, case, wish_for, at, str(refusal), status=409)
    if visit.booking.lapses_at:
        messages.success(request, _("Pencilled. It lapses by itself unless it is confirmed."))
        return redirect("case", pk=pk)
    messages.success(request, _("Booked. The confirmation is on its way."))
    if wish_for == VisitPurpose.CONSULTATION and not case.visits.filter(purpose=VisitPurpose.SESSION).exists():
        return redirect("case_time", pk=pk, purpose=VisitPurpose.SESSION)
    return redirect("case", pk=pk)


@staff(Capability.DIARY_BOOK, methods=("POST",))
def confirm(request: StaffRequest, pk: int, visit_pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk)
    visit = case.visits.select_related("booking__visit_type", "booking__site").filter(pk=visit_pk).first()
    if visit is None:
        raise Http404
    try:
        confirm_pencilled(case=case, visit=visit, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("The time is confirmed. The confirmation is on its way."))
    return redirect("case", pk=pk)


def _page(
    request: StaffRequest, case: Case, purpose: VisitPurpose, at: datetime, error: str, *, status: int = 200
) -> HttpResponse:
    earliest_at = max(earliest_for(case, purpose, now=at), _asked_day(request, case, at) or at)
    found = _openings(case, purpose, earliest_at)
    pencils = purpose == VisitPurpose.SESSION
    waits_until = not_before_on(case, now=at) if pencils else None
    context = {
        "case": case,
        "purpose": purpose,
        "openings": found,
        "error": error,
        "pencils": pencils,
        "already": case.visits.filter(purpose=purpose, booking__status__in=COMING, booking__ends_at__gt=at)
        .select_related("booking")
        .order_by("booking__starts_at"),
        "waits_until": waits_until,
        "from_on": earliest_at.astimezone(case.site.zone).date(),
    }
    return render(request, "casebook_pages/time.html", context, status=status)


def _openings(case: Case, purpose: VisitPurpose, earliest_at: datetime) -> Openings:
    try:
        wanted = wanted_for(case, purpose)
    except Refusal as refusal:
        return Openings([], [str(refusal)])
    latest_at = earliest_at + timedelta(days=SEARCH_DAYS)
    return openings.find_days(site=case.site, wanted=wanted, earliest_at=earliest_at, latest_at=latest_at)


def _asked_day(request: StaffRequest, case: Case, at: datetime) -> datetime | None:
    """The day that was asked for in the address, as an instant; None for none, nonsense or a day years away."""
    try:
        day = date.fromisoformat(request.GET.get("from_on", ""))
    except ValueError:
        return None
    if abs((day - at.date()).days) > FARTHEST_DAYS:
        return None
    return datetime(day.year, day.month, day.day, tzinfo=case.site.zone)
