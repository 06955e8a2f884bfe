"""The record of a closed session as a paper: the one that is kept, or made anew where the log has grown since."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, require
from clinic.documents.views.files import shown
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.chairside.access import access_closed_session
from whitening.chairside.session_record import record_paper


@staff(Capability.CLINICAL_DOCUMENTS_READ, methods=("POST",))
def session_record(request: StaffRequest, session_pk: int) -> HttpResponse:
    session = access_closed_session(user=request.user, pk=session_pk, to=Capability.CLINICAL_DOCUMENTS_READ)
    require(request.user, Capability.ANSWERS_READ, session.site)
    try:
        document = record_paper(session, actor=request.actor, now=now(), is_large="large" in request.POST)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("case", pk=session.case_id)
    return shown(request, document, is_shown=True)
