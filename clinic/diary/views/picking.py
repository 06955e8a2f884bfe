"""A patient picks the time of a visit alone, by private link: one press on a free time books it."""

from datetime import datetime

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django_stubs_ext import StrOrPromise

from clinic.diary import actions, kinds
from clinic.diary.forms import StartForm
from clinic.diary.models import TimeInvitation
from clinic.diary.refusals import BookedAlready
from clinic.diary.selfservice import inviting, receipts
from clinic.diary.selfservice.reading import picking_range
from clinic.diary.selfservice.words import PICK_ONE, for_patient
from clinic.diary.views.own_times import times
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


@patient(kinds.PICK, methods=("GET", "POST"))
def pick(request: PatientRequest) -> HttpResponse:
    invitation, at = _invitation(request), now()
    # The desk was asked on the telephone meanwhile: two visits of one kind are not what anybody wants.
    if (already := actions.booked_since(invitation)) is not None:
        return _booked(request, already)
    if request.method != "POST":
        return _page(request, invitation, at)
    start = StartForm(request.POST)
    if not start.is_valid():
        return _page(request, invitation, at, PICK_ONE, status=422)
    try:
        booking = actions.pick(
            invitation=invitation, start_at=start.cleaned_data["start_at"], actor=request.actor, now=at
        )
    except BookedAlready as refusal:
        return _booked(request, refusal.booking)
    except Refusal as refusal:
        return _page(request, invitation, at, for_patient(refusal), status=409)
    return redirect("own_visit_done", receipt=receipts.of(booking, "picked"))


def _booked(request: PatientRequest, booking: object) -> HttpResponse:
    return render(request, "diary/own/done.html", {"booking": booking, "what": "stands", "site": request.site})


def _invitation(request: PatientRequest) -> TimeInvitation:
    held = kinds.load_invitation(request.link.subject_id)
    if held is None or request.patient.pk not in {held.patient_id, held.patient.merged_into_id}:
        raise Http404
    return held


def _page(
    request: PatientRequest, invitation: TimeInvitation, at: datetime, error: StrOrPromise = "", *, status: int = 200
) -> HttpResponse:
    asked, _room = inviting.of(invitation, now=at)
    between = picking_range(invitation, asked.limits, now=at)
    found = times(request, site=invitation.site, wanted=asked.wanted, between=between)
    context = {"error": error, "visit_type": invitation.visit_type, **found}
    return render(request, "diary/own/pick.html", context, status=status)
