"""Here without a visit: what can begin now for somebody who stands at the desk, or why not and what is next."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import actions
from clinic.diary.forms import SEARCH_DAYS, WalkInForm
from clinic.diary.models import COMING, Booking, VisitCode, VisitType
from clinic.diary.openings import Opening, Wanted, find
from clinic.diary.views.nobody import no_times
from clinic.patients.access import access_patient
from clinic.patients.models import Patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

# A problem first: it is why most people come unannounced.
CODES = (VisitCode.PROBLEM, VisitCode.CONSULTATION)
NEXT_SHOWN = 3


@dataclass(frozen=True, slots=True)
class Offer:
    """What one kind of visit can do now; without a time now, why not, and the next ones."""

    visit_type: VisitType
    first: Opening | None
    reasons: Sequence[StrOrPromise]
    later: Sequence[Opening]


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def here(request: StaffRequest, patient_pk: int) -> HttpResponse:
    patient = access_patient(user=request.user, pk=patient_pk, to=Capability.DIARY_BOOK)
    if page := no_times(request, patient):
        return page
    at = now()
    if request.method == "GET":
        return _page(request, patient, at)
    form = WalkInForm(request.POST, visit_types=_visit_types(patient))
    if not form.is_valid():
        return _page(request, patient, at, str(next(iter(form.errors.values()))[0]), status=422)
    wish = actions.BookingRequest(patient, form.cleaned_data["visit_type"], form.cleaned_data["start_at"])
    try:
        booking = actions.walk_in(site=patient.site, request=wish, actor=request.actor, now=at)
    except Refusal as refusal:
        return _page(request, patient, at, str(refusal), status=409)
    messages.success(request, _("Booked, and noted as here."))
    return redirect("booking", pk=booking.pk)


def _page(request: StaffRequest, patient: Patient, at: datetime, error: str = "", *, status: int = 200) -> HttpResponse:
    today = at.astimezone(patient.site.zone).date()
    coming = Booking.objects.filter(patient=patient, wall_on=today, status__in=COMING).without_ended_holds(now=at)
    context = {
        "patient": patient,
        "offers": [_offer(one, at) for one in _visit_types(patient)],
        "today": coming.select_related("visit_type", "site").order_by("starts_at", "pk"),
        "error": error,
    }
    return render(request, "diary/walk_in.html", context, status=status)


def _visit_types(patient: Patient) -> list[VisitType]:
    found = VisitType.objects.bookable().filter(site=patient.site, code__in=CODES)
    return sorted(found, key=lambda one: (CODES.index(VisitCode(one.code)), one.name))


def _offer(visit_type: VisitType, at: datetime) -> Offer:
    wanted, site, until = Wanted(visit_type, now=at), visit_type.site, at + actions.WAIT_AT_MOST
    soon = find(site=site, wanted=wanted, earliest_at=at, latest_at=until + timedelta(minutes=1), limit=1)
    if soon.found:
        return Offer(visit_type, soon.found[0], (), ())
    latest_at = until + timedelta(days=SEARCH_DAYS)
    later = find(site=site, wanted=wanted, earliest_at=until, latest_at=latest_at, limit=NEXT_SHOWN)
    return Offer(visit_type, None, soon.reasons, later.found)
