"""The patient opens the aftercare sheet; the code to the known channel comes first."""

from django.http import HttpResponse

from clinic.documents import archive
from clinic.documents.views.files import pdf_response
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from whitening.recall.aftercare import sheet_of
from whitening.recall.kinds import HOW_ARE_YOU
from whitening.recall.views.replying import session_of


@patient(HOW_ARE_YOU, code_needed=True)
def aftercare(request: PatientRequest) -> HttpResponse:
    document = sheet_of(session_of(request), actor=request.actor, now=now())
    return pdf_response(document, archive.read(document.sha256), is_shown=True)
