"""What a handed-over file really is: PDF, JPEG or PNG to the last byte, or a refusal that says why."""

import subprocess
import sys
from collections.abc import Callable
from io import BytesIO

import pytest
from PIL import ImageFile
from pypdf import PdfWriter
from pypdf.generic import ArrayObject, DictionaryObject, NameObject, TextStringObject

from clinic.documents import inspecting, looking
from clinic.documents.failures import NotAPaper
from clinic.documents.looking import Looked, Refused, look
from clinic.documents.uploads import MOST_BYTES
from tests.papers import a_pdf, a_picture, written


@pytest.fixture(autouse=True)
def _as_in_its_own_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Drawing sheets loosens this for the whole process; the one that looks draws nothing."""
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", False)


def pdf_with(change: Callable[[PdfWriter], object]) -> bytes:
    writer = PdfWriter(clone_from=BytesIO(a_pdf()))
    change(writer)
    return written(writer)


def action(kind: str) -> DictionaryObject:
    return DictionaryObject({NameObject("/S"): NameObject(kind), NameObject("/JS"): TextStringObject("app.alert(1)")})


def opens_with(kind: str) -> bytes:
    return pdf_with(lambda writer: writer.root_object.update({NameObject("/OpenAction"): action(kind)}))


def pressed(writer: PdfWriter) -> None:
    note = DictionaryObject({NameObject("/Subtype"): NameObject("/Link"), NameObject("/A"): action("/Launch")})
    writer.pages[0][NameObject("/Annots")] = ArrayObject([note])


def turned(writer: PdfWriter) -> None:
    writer.pages[0][NameObject("/AA")] = DictionaryObject({NameObject("/O"): action("/JavaScript")})


def named_script(writer: PdfWriter) -> None:
    scripts = DictionaryObject({NameObject("/Names"): ArrayObject([TextStringObject("a"), action("/JavaScript")])})
    writer.root_object[NameObject("/Names")] = DictionaryObject({NameObject("/JavaScript"): scripts})


@pytest.mark.parametrize(("content", "found"), [
    (a_pdf(), Looked("application/pdf", 1)),
    (a_pdf(60), Looked("application/pdf", 60)),
    # Where to look first is no command.
    (opens_with("/GoTo"), Looked("application/pdf", 1)),
    (a_picture("JPEG"), Looked("image/jpeg", 1)),
    (a_picture("PNG"), Looked("image/png", 1)),
])  # fmt: skip
def test_it_works(content: bytes, found: Looked) -> None:
    assert look(content) == found


@pytest.mark.parametrize(("content", "why"), [
    (b"<script>alert(1)</script>", "kind"),
    (b"PK\x03\x04 a letter of a word processor", "kind"),
    (a_picture("GIF"), "kind"),
    (a_picture("TIFF"), "kind"),
    (b"\xef\xbb\xbf" + a_pdf(), "kind"),
    (a_pdf()[:60], "broken"),
    (b"%PDF-1.7\n<script>alert(1)</script>", "broken"),
    (a_picture("PNG")[:-30], "broken"),
    (a_picture("JPEG", size=(600, 800))[:900], "broken"),
    (b"\xff\xd8\xff" + b"<script>alert(1)</script>" * 40, "broken"),
    (b"\x89PNG\r\n\x1a\n" + b"\0" * 400, "broken"),
    (a_pdf(61), "pages"),
    (pdf_with(lambda writer: writer.encrypt("secret", algorithm="RC4-128")), "locked"),
    (opens_with("/JavaScript"), "active"),
    (opens_with("/Launch"), "active"),
    (pdf_with(pressed), "active"),
    (pdf_with(turned), "active"),
    (pdf_with(named_script), "active"),
    (pdf_with(lambda writer: writer.add_attachment("other.exe", b"MZ")), "active"),
])  # fmt: skip
def test_refused(content: bytes, why: str) -> None:
    with pytest.raises(Refused, match=f"^{why}$"):
        look(content)


def test_a_picture_that_would_fill_the_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """Told from its head alone: not one point of it is unpacked."""
    monkeypatch.setattr(looking, "PIXELS_MOST", 59 * 80)
    with pytest.raises(Refused, match="pixels"):
        look(a_picture("PNG")[:200])


def test_looked_at_in_a_process_of_its_own() -> None:
    assert inspecting.inspected(a_picture("JPEG")) == Looked("image/jpeg", 1)
    with pytest.raises(NotAPaper, match="no PDF, JPEG or PNG, whatever its name says"):
        inspecting.inspected(b"<script>")


@pytest.mark.parametrize(("content", "words"), [(b"", "This file is empty"), (b"%PDF-" + b" " * MOST_BYTES, "25 MB")])
def test_what_is_refused_without_looking(monkeypatch: pytest.MonkeyPatch, content: bytes, words: str) -> None:
    monkeypatch.setattr(subprocess, "run", None)
    with pytest.raises(NotAPaper, match=words):
        inspecting.inspected(content)


def test_a_file_that_kills_the_process_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/bin/false")
    with pytest.raises(NotAPaper, match="cannot be read to its end"):
        inspecting.inspected(a_pdf())
