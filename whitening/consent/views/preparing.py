"""The patient's page about what to do and bring before a visit, and the same as a paper."""

from dataclasses import replace

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django_stubs_ext import StrOrPromise

from clinic.diary.kinds import VISIT
from clinic.diary.models import Booking
from clinic.diary.views.before import own_visit
from clinic.documents import archive
from clinic.documents.views.files import pdf_response
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.consent.preparing import Preparing, preparing_for
from whitening.consent.preparing_sheet import sheet_for


@patient(VISIT)
def page(request: PatientRequest) -> HttpResponse:
    """What holds for everybody needs no code; what this plan says does, as on the paper."""
    booking, facts = _visit(request)
    if request.visit.code_passed_at is None:
        facts = replace(facts, planned=None)
    return render(request, "consent/prepare.html", {"booking": booking, "site": booking.site, "facts": facts})


@patient(VISIT, methods=("GET", "POST"), code_needed=True)
def paper(request: PatientRequest) -> HttpResponse:
    """Looking draws nothing: the file is made by a press, in the size of letters that is wanted."""
    booking, _facts = _visit(request)
    error: StrOrPromise = ""
    if request.method == "POST":
        try:
            document = sheet_for(booking, "large" in request.POST, request.actor, now())
            return pdf_response(document, archive.read(document.sha256), is_shown=True)
        except Refusal as refusal:
            error = str(refusal)
    context = {"booking": booking, "error": error}
    return render(request, "consent/prepare_paper.html", context, status=409 if error else 200)


def _visit(request: PatientRequest) -> tuple[Booking, Preparing]:
    booking = own_visit(request)
    facts = preparing_for(booking) if booking is not None else None
    if booking is None or facts is None:
        raise Http404
    return booking, facts
