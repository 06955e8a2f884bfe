"""Find a time for a visit of a case: the diary's openings, one press away; and confirm a pencilled session."""

from dataclasses import replace
from datetime import datetime, time, timedelta

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.dates import moment_words
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.engine.working import instant
from clinic.diary.forms import SEARCH_DAYS, DayForm, StartForm
from clinic.diary.leads import last_day
from clinic.diary.models import COMING
from clinic.diary.openings import Openings, Wanted
from clinic.diary.views.nobody import no_times
from clinic.diary.views.openings import Found, asked_for, look_for
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.casebook.actions import (
    VisitWish,
    book_visit,
    confirm_all_pencilled,
    confirm_pencilled,
    hold_visit,
    wanted_for,
)
from whitening.casebook.lead_times import earliest_for
from whitening.casebook.leads import leads_for, shown_leads
from whitening.casebook.wishing import way_to_list
from whitening.cases.access import access_case
from whitening.cases.models import Case, VisitPurpose


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def find(request: StaffRequest, pk: int, purpose: str) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    if purpose not in VisitPurpose.values:
        raise Http404
    if page := no_times(request, case.patient):
        return page
    wish_for, at = VisitPurpose(purpose), now()
    if request.method == "GET":
        return _page(request, case, wish_for, at, "")
    is_hold = "hold_at" in request.POST
    start = StartForm(request.POST | {"start_at": request.POST["hold_at"]} if is_hold else request.POST)
    if not start.is_valid():
        return _page(request, case, wish_for, at, _("Pick one of the free times."), status=422)
    form = _form(request, case, wish_for, at)
    if not form.is_valid():
        return _page(request, case, wish_for, at, "", status=422)
    wish = VisitWish(wish_for, start.cleaned_data["start_at"], form.person_id())
    try:
        visit = (hold_visit if is_hold else book_visit)(case=case, wish=wish, actor=request.actor, now=at)
    except Refusal as refusal:
        return _page(request, case, wish_for, at, str(refusal), status=409)
    if is_hold:
        # A hold's own page says how it stands.
        return redirect("booking", pk=visit.booking_id)
    if visit.booking.lapses_at:
        messages.success(request, _("Pencilled. It lapses by itself unless it is confirmed."))
        return redirect("case", pk=pk)
    messages.success(request, _("Booked. The confirmation is on its way."))
    if wish_for == VisitPurpose.CONSULTATION and not case.visits.filter(purpose=VisitPurpose.SESSION).exists():
        return redirect("case_time", pk=pk, purpose=VisitPurpose.SESSION)
    return redirect("case", pk=pk)


@staff(Capability.DIARY_BOOK, methods=("POST",))
def confirm(request: StaffRequest, pk: int, visit_pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
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


@staff(Capability.DIARY_BOOK, methods=("POST",))
def confirm_all(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    found = confirm_all_pencilled(case=case, actor=request.actor, now=now())
    for visit, refusal in found:
        when = moment_words(visit.booking.starts_at, case.site.zone)
        if refusal is None:
            messages.success(request, _("Confirmed: %(when)s. The confirmation is on its way.") % {"when": when})
        else:
            messages.error(request, f"{when}: {refusal}")
    if not found:
        messages.error(request, _("Nothing of this case is pencilled any more."))
    return redirect("case", pk=pk)


def _form(request: StaffRequest, case: Case, purpose: VisitPurpose, at: datetime) -> DayForm:
    """Filled in from the first day on which this visit may be."""
    first_on = earliest_for(case, purpose, now=at, with_advice=True).astimezone(case.site.zone).date()
    return DayForm(asked_for(request, from_on=first_on), site=case.site, now=at)


def _page(
    request: StaffRequest, case: Case, purpose: VisitPurpose, at: datetime, error: str, *, status: int = 200
) -> HttpResponse:
    form = _form(request, case, purpose, at)
    wanted = _wanted(case, purpose, form, at) if form.is_valid() else None
    found = _found(case, purpose, form, wanted, at) if wanted else None
    pencils = purpose == VisitPurpose.SESSION
    context = {
        "case": case,
        "purpose": purpose,
        "form": form,
        "found": found,
        "error": error,
        "pencils": pencils,
        "others": [(code, label) for code, label in VisitPurpose.choices if code != purpose],
        "already": case.visits.filter(purpose=purpose, booking__status__in=COMING, booking__ends_at__gt=at)
        .select_related("booking")
        .order_by("booking__starts_at"),
        "leads": shown_leads(case, purpose, user=request.user, now=at),
        "can_hold": True,
        "to_list": way_to_list(case, wanted, now=at) if isinstance(wanted, Wanted) and not case.closed_at else None,
    }
    return render(request, "casebook_pages/time.html", context, status=status if found else 422)


def _wanted(case: Case, purpose: VisitPurpose, form: DayForm, at: datetime) -> Wanted | Refusal:
    try:
        return replace(wanted_for(case, purpose, person=form.person_id()), wishes=form.wishes(), now=at)
    except Refusal as refusal:
        return refusal


def _found(case: Case, purpose: VisitPurpose, form: DayForm, wanted: Wanted | Refusal, at: datetime) -> Found:
    if isinstance(wanted, Refusal):
        return Found(Openings([], [str(wanted)]), ())
    earliest_at = max(earliest_for(case, purpose, now=at), form.range()[0])
    latest_at = _latest_at(case, purpose, at, earliest_at + timedelta(days=SEARCH_DAYS))
    return look_for(site=case.site, wanted=wanted, earliest_at=earliest_at, latest_at=latest_at)


def _latest_at(case: Case, purpose: VisitPurpose, at: datetime, searched_until: datetime) -> datetime:
    """A cleaning that is too old on that day: no time is offered that the gates would not take."""
    last_on = last_day(one for one in leads_for(case, purpose, user=None, now=at) if not one.is_advice)
    if last_on is None:
        return searched_until
    return min(searched_until, instant(last_on + timedelta(days=1), time(0), case.site.zone))
