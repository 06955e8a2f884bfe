"""Letters about a case: the result, for the desk to print and for the patient's own page, and the dental check."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
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
from whitening.recall import check_letter, result_letter
from whitening.recall.kinds import HOW_ARE_YOU
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


@patient(HOW_ARE_YOU, methods=("GET", "POST"), code_needed=True)
def own_result(request: PatientRequest) -> HttpResponse:
    """Looking draws nothing: a letter that is not there yet is made by a press."""
    case, error, at = session_of(request).case, "", now()
    is_large = "large" in request.GET or "large" in request.POST
    try:
        document = result_letter.issued(case, now=at, is_large=is_large)
        if request.method == "POST":
            document = result_letter.letter_of(case, actor=request.actor, now=at, is_large=is_large)
        if document is not None:
            return pdf_response(document, archive.read(document.sha256), is_shown=True)
    except Refusal:
        error = _("The letter cannot be shown just now. Try again in a moment, or call us: we read it to you.")
    context = {"site": case.site, "error": error, "is_large": is_large}
    return render(request, "recall/result_missing.html", context, status=409 if error else 200)
