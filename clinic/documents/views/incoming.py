"""Papers that came in: filing one for a patient, and opening it again."""

from http import HTTPStatus

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, NotAllowed
from clinic.documents import incoming
from clinic.documents.access import access_paper
from clinic.documents.failures import FileAltered, FileLost
from clinic.documents.filing import file_paper, note_mistake
from clinic.documents.forms import PaperForm
from clinic.documents.models import IncomingPaper
from clinic.documents.sections import SHOWN_WITH, came_in, may_open
from clinic.documents.uploads import was_too_big
from clinic.documents.views.files import safe_bytes
from clinic.patients.access import access_patient
from clinic.patients.person import of_person
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


@staff(Capability.PAPERS_FILE, methods=("GET", "POST"))
def patient_papers(request: StaffRequest, pk: int) -> HttpResponse:
    patient = access_patient(user=request.user, pk=pk, to=Capability.PAPERS_FILE)
    today = now().astimezone(patient.site.zone).date()
    form, status = PaperForm(today=today), HTTPStatus.OK
    if request.method == "POST":
        posted, files = request.POST, request.FILES
        form = PaperForm(posted, files, today=today, is_too_big=was_too_big(request))
        status = HTTPStatus.UNPROCESSABLE_ENTITY
        if form.is_valid():
            try:
                file_paper(
                    patient=patient,
                    details=form.details(),
                    content=form.content(),
                    user=request.user,
                    actor=request.actor,
                    now=now(),
                )
            except Refusal as refusal:
                form.add_error(None, str(refusal))
                status = HTTPStatus.CONFLICT
            else:
                messages.success(request, _("The paper is filed."))
                return redirect("patient", pk=pk)
    rows = IncomingPaper.objects.filter(of_person(patient)).select_related(*SHOWN_WITH)
    context = {"patient": patient, "form": form, "came_in": came_in(rows, request.user)}
    return render(request, "documents/papers.html", context, status=status)


@staff(Capability.PAPERS_FILE, methods=("POST",))
def paper_mistake(request: StaffRequest, pk: int) -> HttpResponse:
    """Filed for the wrong patient, or no paper at all."""
    paper = access_paper(user=request.user, pk=pk, to=Capability.PAPERS_FILE)
    why = request.POST.get("why", "")[:300]
    try:
        note_mistake(paper=paper, why=why, user=request.user, actor=request.actor, now=now())
    except NotAllowed as refusal:
        raise PermissionDenied from refusal
    except Refusal as refusal:
        return render(request, "errors/409.html", {"sentence": str(refusal)}, status=HTTPStatus.CONFLICT)
    messages.success(request, _("Noted. Nobody opens this paper here any more."))
    return redirect("patient", pk=paper.patient_id)


@staff(Capability.CLINICAL_DOCUMENTS_READ)
def incoming_file(request: StaffRequest, pk: int) -> HttpResponse:
    """To be saved, never to be run: whoever sent it made it, not we."""
    paper = access_paper(user=request.user, pk=pk, to=Capability.CLINICAL_DOCUMENTS_READ)
    if not may_open(paper, request.user):
        raise PermissionDenied
    try:
        content = incoming.read(paper)
    except (FileAltered, FileLost) as refusal:
        context = {"paper": paper, "refusal": refusal}
        return render(request, "documents/paper_unreadable.html", context, status=HTTPStatus.CONFLICT)
    note_read(
        actor=request.actor,
        what="documents.incoming",
        subject=("paper", paper.pk),
        patient_id=paper.patient_id,
        site_id=paper.site_id,
    )
    return paper_response(paper, content)


def paper_response(paper: IncomingPaper, content: bytes) -> HttpResponse:
    return safe_bytes(paper.file_name, content, content_type=str(paper.media_type), is_shown=False)
