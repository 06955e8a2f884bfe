"""The questions on paper for one patient, to be filled in by hand."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.documents.failures import RenderFailed
from clinic.documents.views.files import pdf_bytes
from clinic.trail.clock import now
from whitening.cases.access import access_case
from whitening.screening.question_sheet import print_questions


@staff(Capability.DOCUMENTS_READ, methods=("POST",))
def question_sheet(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.DOCUMENTS_READ)
    try:
        printed = print_questions(
            site=case.site,
            patient=case.patient,
            language=case.patient.language,
            subject=("case", case.pk),
            actor=request.actor,
            now=now(),
            large_print="large" in request.POST,
        )
    except RenderFailed as refusal:
        messages.error(request, str(refusal))
        return redirect("case", pk=pk)
    return pdf_bytes(f"questions-{pk}.pdf", printed.drawing.pdf, is_shown=True)
