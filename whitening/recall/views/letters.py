"""Letters about a case: the result, for the desk to print and for the patient's own page, and the dental check."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.documents import archive
from clinic.documents.models import IssuedDocument
from clinic.documents.views.files import pdf_response, shown
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.cases.models import Case
from whitening.recall import check_letter, result_letter, result_link
from whitening.recall.kinds import HOW_ARE_YOU
from whitening.recall.models import Review
from whitening.recall.views.replying import session_of


@staff(Capability.DOCUMENTS_READ, methods=("POST",))
def result(request: StaffRequest, pk: int) -> HttpResponse:
    return _letter(request, pk, result_letter.letter_of)


@staff(Capability.DOCUMENTS_READ, methods=("POST",))
def check(request: StaffRequest, pk: int) -> HttpResponse:
    return _letter(request, pk, check_letter.letter_of)


def _letter(request: StaffRequest, pk: int, letter_of: Callable[..., IssuedDocument]) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.DOCUMENTS_READ)
    try:
        document = letter_of(case, actor=request.actor, now=now(), is_large="large" in request.POST)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("case", pk=pk)
    return shown(request, document, is_shown=True)


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def send_result(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.MESSAGES_SEND)
    try:
        result_link.send_link(case=case, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("The link to the letter is on its way. An earlier one ends when it goes out."))
    return redirect("case", pk=pk)


@patient(HOW_ARE_YOU, methods=("GET", "POST"), code_needed=True)
def own_result(request: PatientRequest) -> HttpResponse:
    """Between closing the session and the review."""
    return _own(request, session_of(request).case)


@patient(result_link.RESULT, methods=("GET", "POST"), code_needed=True)
def own_letter(request: PatientRequest) -> HttpResponse:
    """From the review on."""
    rows = Review.objects.filter(pk=request.link.subject_id, case__patient=request.patient)
    return _own(request, get_object_or_404(rows.select_related("case__site", "case__patient")).case)


def _own(request: PatientRequest, case: Case) -> HttpResponse:
    """Looking draws nothing: a letter that is not there yet is made by a press."""
    error, at = "", now()
    is_large = "large" in request.GET or "large" in request.POST
    try:
        document = result_letter.issued(case, now=at, is_large=is_large)
        if request.method == "POST":
            document = result_letter.letter_of(case, actor=request.actor, now=at, is_large=is_large)
        if document is not None:
            return pdf_response(document, archive.read(document.sha256), is_shown=True)
    except Refusal:
        error = _("The letter cannot be shown just now. Try again in a moment, or call us: we read it to you.")
    is_reviewed = Review.objects.filter(case=case).exists()
    context = {"site": case.site, "error": error, "is_large": is_large, "is_reviewed": is_reviewed}
    return render(request, "recall/result_missing.html", context, status=409 if error else 200)
