"""Papers as they come in: scans made here, filed by hand where a test is about what follows from them."""

from dataclasses import asdict
from datetime import date
from functools import cache
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image
from pypdf import PdfWriter

from clinic.accounts.models import User
from clinic.documents import incoming, inspecting
from clinic.documents.looking import Refused, look
from clinic.documents.models import IncomingPaper, PaperKind
from clinic.patients.models import Patient
from tests.cast import NOW


@cache
def a_pdf(pages: int = 1) -> bytes:
    writer = PdfWriter()
    for _page in range(pages):
        writer.add_blank_page(width=595, height=842)
    return written(writer)


def written(writer: PdfWriter) -> bytes:
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def a_picture(format_: str, *, size: tuple[int, int] = (60, 80), grey: int = 200) -> bytes:
    out = BytesIO()
    Image.new("L", size, grey).save(out, format_)
    return out.getvalue()


def upload(content: bytes, name: str = "scan.pdf") -> SimpleUploadedFile:
    """What the browser says of it is never believed."""
    return SimpleUploadedFile(name, content, content_type="text/html")


def filed(patient: Patient, user: User, *, content: bytes | None = None, **changed: Any) -> IncomingPaper:
    """As the action writes it; the action itself has tests of its own."""
    held = a_pdf() if content is None else content
    looked = look(held)
    fields: dict[str, Any] = {
        "kind": PaperKind.LETTER,
        "sender": "Dr Ilse Aumann",
        "dated_on": date(2026, 3, 3),
        "received_on": date(2026, 3, 3),
        "filed_at": NOW,
        "filed_by": user,
    }
    return IncomingPaper.objects.create(
        site=patient.site,
        patient=patient,
        media_type=looked.media_type,
        sha256=incoming.keep(held, looked.media_type),
        byte_size=len(held),
        pages=looked.pages,
        **fields | changed,
    )


def look_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """In this process: that it is another one is tested with the looking itself."""
    monkeypatch.setattr(inspecting, "_answer", _answered)


def _answered(content: bytes) -> dict[str, Any]:
    try:
        return asdict(look(content))
    except Refused as refused:
        return {"refused": str(refused)}
