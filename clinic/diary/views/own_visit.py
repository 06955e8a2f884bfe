"""What the patient does with their own visit by private link: keep it, move it, cancel it."""

from datetime import datetime

from django.contrib import messages
from django.core import signing
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.doors import go
from clinic.diary import kinds
from clinic.diary.actions.selfservice import cancel_visit, keep_visit, move_visit
from clinic.diary.forms import StartForm
from clinic.diary.models import Booking
from clinic.diary.refusals import CallUs, ChangedMeanwhile, NotPossibleNow
from clinic.diary.selfservice import receipts
from clinic.diary.selfservice.forms import CannotComeForm, SeenForm
from clinic.diary.selfservice.reading import moving_range, moving_wanted, offer_of
from clinic.diary.selfservice.words import PICK_ONE, for_patient
from clinic.diary.views.before import own_visit, visit_page
from clinic.diary.views.own_times import times
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

REFUSED, UNFIT = 409, 422


@patient(kinds.VISIT, methods=("POST",))
def keep(request: PatientRequest) -> HttpResponse:
    booking = _seen(request, _own(request))
    try:
        keep_visit(booking=booking, actor=request.actor, now=now())
    except Refusal as refusal:
        return visit_page(request, _words(refusal), status=REFUSED)
    messages.success(request, _("Thank you. We know now that you will come."))
    return redirect("before_visit")


@patient(kinds.VISIT, methods=("GET", "POST"))
def move(request: PatientRequest) -> HttpResponse:
    booking, at = _own(request), now()
    if not offer_of(booking, now=at).move:
        return _call_us(request)
    if request.method != "POST":
        return _times(request, booking, at)
    start = StartForm(request.POST)
    if not start.is_valid():
        return _times(request, booking, at, PICK_ONE, status=UNFIT)
    # The version that was on the page: a visit that the practice has moved meanwhile is looked at first.
    booking.version = start.cleaned_data["version"] or 0
    try:
        moved = move_visit(booking=booking, start_at=start.cleaned_data["start_at"], actor=request.actor, now=at)
    except (ChangedMeanwhile, NotPossibleNow, CallUs) as refusal:
        return visit_page(request, _words(refusal), status=REFUSED)
    except Refusal as refusal:
        return _times(request, _own(request), at, for_patient(refusal), status=REFUSED)
    return redirect("own_visit_done", receipt=receipts.of(moved, "moved"))


@patient(kinds.VISIT, methods=("GET", "POST"))
def cancel(request: PatientRequest) -> HttpResponse:
    booking, at = _own(request), now()
    can = offer_of(booking, now=at)
    if not can.cancel:
        return _call_us(request)
    form = CannotComeForm(request.POST if request.method == "POST" else None)
    if not form.is_valid():
        context = {"booking": booking, "can": can, "form": form}
        return render(request, "diary/own/cancel.html", context, status=UNFIT if form.is_bound else 200)
    booking.version = form.cleaned_data["version"] or 0
    try:
        ended = cancel_visit(booking=booking, why=form.cleaned_data["why"], actor=request.actor, now=at)
    except Refusal as refusal:
        return visit_page(request, _words(refusal), status=REFUSED)
    return redirect("own_visit_done", receipt=receipts.of(ended, "cancelled"))


@patient((kinds.VISIT, kinds.PICK), done_ok=True)
def done(request: PatientRequest, receipt: str) -> HttpResponse:
    """What was just done, in this browser: the link that did it may have ended by it."""
    try:
        pk, what = receipts.read(receipt)
    except signing.BadSignature as bad:
        raise Http404 from bad
    mine = Booking.objects.select_related("site", "visit_type").filter(patient__in=_themselves(request))
    booking = get_object_or_404(mine, pk=pk)
    return render(request, "diary/own/done.html", {"booking": booking, "what": what, "site": booking.site})


def _themselves(request: PatientRequest) -> set[int]:
    """The row of the link, and the one that it was merged into."""
    return {pk for pk in (request.patient.pk, request.patient.merged_into_id) if pk is not None}


def _own(request: PatientRequest) -> Booking:
    booking = own_visit(request)
    if booking is None:
        raise Http404
    return booking


def _seen(request: PatientRequest, booking: Booking) -> Booking:
    form = SeenForm(request.POST)
    booking.version = (form.cleaned_data["version"] if form.is_valid() else None) or 0
    return booking


def _call_us(request: PatientRequest) -> HttpResponse:
    """Looking there is no mistake: the page of the visit says what is possible now, and whom to call."""
    if request.method != "POST":
        return go(request, reverse("before_visit"))
    return visit_page(request, str(CallUs()), status=REFUSED)


def _words(refusal: Refusal) -> StrOrPromise:
    return str(refusal) if isinstance(refusal, CallUs) else for_patient(refusal)


def _times(
    request: PatientRequest, booking: Booking, at: datetime, error: StrOrPromise = "", *, status: int = 200
) -> HttpResponse:
    found = times(
        request,
        site=booking.site,
        wanted=moving_wanted(booking, now=at),
        between=moving_range(booking, now=at),
        but=booking.starts_at,
    )
    context = {"booking": booking, "error": error, **found}
    return render(request, "diary/own/move.html", context, status=status)
