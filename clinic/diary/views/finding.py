"""Find a time for a patient and book it: a list of openings, each one press away."""

from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import actions, openings
from clinic.diary.forms import FindForm, StartForm
from clinic.diary.openings import Openings
from clinic.patients.access import access_patient
from clinic.patients.models import Patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def find_time(request: StaffRequest, patient_pk: int) -> HttpResponse:
    patient = access_patient(user=request.user, pk=patient_pk)
    at = now()
    form = FindForm(_asked(request, at), site=patient.site)
    if not form.is_valid():
        return _page(request, patient, form, None, status=422)
    if request.method == "GET":
        return _page(request, patient, form, _find(form, at))
    start = StartForm(request.POST)
    if not start.is_valid():
        return _page(request, patient, form, _find(form, at), status=422)
    wanted = form.wanted()
    wish = actions.BookingRequest(
        patient, wanted.visit_type, start.cleaned_data["start_at"], wanted.cycles, wanted.light_kind, wanted.person
    )
    try:
        booking = actions.book(site=patient.site, request=wish, actor=request.actor, now=at)
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _page(request, patient, form, _find(form, at), status=409)
    messages.success(request, _("Booked. The confirmation is on its way."))
    return redirect("booking", pk=booking.pk)


def _asked(request: StaffRequest, at: datetime) -> dict[str, str]:
    """What the form holds on the first visit is filled in, so that openings show at once."""
    site = request.site
    asked = {name: value for name, value in request.GET.items() if value}
    asked.setdefault("from_on", at.astimezone(site.zone).date().isoformat())
    asked.setdefault("cycles", "4")
    if "visit_type" not in asked:
        first = site.visit_types.filter(active=True).first()
        asked["visit_type"] = str(first.pk) if first else ""
    return asked


def _find(form: FindForm, at: datetime) -> Openings:
    earliest_at, latest_at = form.range(at)
    return openings.find(site=form.site, wanted=form.wanted(), earliest_at=earliest_at, latest_at=latest_at)


def _page(
    request: StaffRequest, patient: Patient, form: FindForm, found: Openings | None, *, status: int = 200
) -> HttpResponse:
    context = {"patient": patient, "form": form, "openings": found}
    return render(request, "diary/find.html", context, status=status)
