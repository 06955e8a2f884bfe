"""Opening an issued file, for staff. Patients open theirs through their private links."""

from http import HTTPStatus

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import render

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.documents import archive, larger
from clinic.documents.access import access_document
from clinic.documents.failures import FileAltered, FileLost
from clinic.documents.models import IssuedDocument
from clinic.documents.sections import readable
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


@staff(Capability.DOCUMENTS_READ)
def document_file(request: StaffRequest, pk: int) -> HttpResponse:
    return shown(request, _readable_one(request, pk), is_shown="show" in request.GET)


@staff(Capability.DOCUMENTS_READ, methods=("POST",))
def document_larger(request: StaffRequest, pk: int) -> HttpResponse:
    """The same paper in large print, drawn now and shown at once."""
    document = _readable_one(request, pk)
    if not larger.is_small_one(document):
        raise Http404
    try:
        made = larger.make(document, actor=request.actor, now=now())
    except Refusal as refusal:
        return render(request, "errors/409.html", {"sentence": str(refusal)}, status=HTTPStatus.CONFLICT)
    return shown(request, made, is_shown=True)


def _readable_one(request: StaffRequest, pk: int) -> IssuedDocument:
    document = access_document(user=request.user, pk=pk, to=Capability.DOCUMENTS_READ)
    # A clinical one asks for more.
    if not readable(document, request.user):
        raise PermissionDenied
    return document


def shown(request: StaffRequest, document: IssuedDocument, *, is_shown: bool) -> HttpResponse:
    """To staff who may read it, with a note that they did."""
    try:
        pdf = archive.read(document.sha256)
    except (FileAltered, FileLost) as refusal:
        context = {"document": document, "refusal": refusal}
        return render(request, "documents/unreadable.html", context, status=HTTPStatus.CONFLICT)
    note_read(
        actor=request.actor,
        what="documents.file",
        subject=("document", document.pk),
        patient_id=document.patient_id,
        site_id=document.site_id,
    )
    return pdf_response(document, pdf, is_shown=is_shown)


def pdf_response(document: IssuedDocument, pdf: bytes, *, is_shown: bool) -> HttpResponse:
    """The bytes as issued."""
    return pdf_bytes(document.file_name, pdf, is_shown=is_shown)


def pdf_bytes(file_name: str, pdf: bytes, *, is_shown: bool) -> HttpResponse:
    return safe_bytes(file_name, pdf, content_type="application/pdf", is_shown=is_shown)


def safe_bytes(file_name: str, content: bytes, *, content_type: str, is_shown: bool) -> HttpResponse:
    """With headers under which a browser can do nothing but show or save them."""
    response = HttpResponse(content, content_type=content_type)
    where = "inline" if is_shown else "attachment"
    response["Content-Disposition"] = f'{where}; filename="{file_name}"'
    response["Content-Security-Policy"] = "sandbox; default-src 'none'"
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response
