"""The aftercare sheet: the patient opens it after the code; staff have it made again where drawing failed."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.documents import archive
from clinic.documents.views.files import pdf_response
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.chairside.access import access_closed_session
from whitening.consent.views.signing import paper_of
from whitening.recall.aftercare import issued, sheet_of
from whitening.recall.kinds import HOW_ARE_YOU
from whitening.recall.views.replying import session_of


@patient(HOW_ARE_YOU, methods=("GET", "POST"), code_needed=True)
def aftercare(request: PatientRequest) -> HttpResponse:
    """Looking draws nothing: a sheet that is not there yet is made by a press."""
    session, error = session_of(request), ""
    is_large = "large" in request.GET or "large" in request.POST
    try:
        document = issued(session, now=now(), is_large=is_large)
        if document is None and request.method == "POST":
            document = sheet_of(session, actor=request.actor, now=now(), is_large=is_large)
        if document is not None:
            return pdf_response(document, archive.read(document.sha256), is_shown=True)
    except Refusal:
        error = _("The sheet cannot be shown just now. Try again in a moment, or call us: we read it to you.")
    context = {"site": session.case.site, "error": error, "is_large": is_large}
    return render(request, "recall/sheet_missing.html", context, status=409 if error else 200)


@patient(HOW_ARE_YOU, code_needed=True)
def consent_paper(request: PatientRequest) -> HttpResponse:
    """What was signed, still at hand once the visit's own page has closed."""
    return paper_of(request, session_of(request).case)


@staff(Capability.DOCUMENTS_READ, methods=("POST",))
def make_sheet(request: StaffRequest, session_pk: int) -> HttpResponse:
    session = access_closed_session(user=request.user, pk=session_pk, to=Capability.DOCUMENTS_READ)
    try:
        sheet_of(session, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("The aftercare sheet is made; it stands under Papers."))
    return redirect("case", pk=session.case_id)
