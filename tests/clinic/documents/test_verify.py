"""The public check: genuine, altered or unknown, and nothing clinical to anybody."""

from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client, RequestFactory, override_settings
from pypdf import PdfWriter

from clinic.documents import archive, codes, throttle
from clinic.documents.models import CheckTries, IssuedDocument
from clinic.documents.uploads import MOST_BYTES
from tests.cast import NOW, Cast
from tests.clinic.documents.slips import slip
from tests.support import nothing_written, stored_files

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer

GENUINE = "Genuine: exactly as it was issued"
KNOWN = "Genuine code: a sheet with this code was issued"
ALTERED = "Altered: this is not what was issued"
UNKNOWN = "Unknown: no such sheet was issued here"
COUNT_OF_TRIES = ("clinic_documents_checktries",)


def ask(client: Client, *, code: str = "", pdf: bytes | None = None) -> "Answer":
    file = {} if pdf is None else {"file": SimpleUploadedFile("sheet.pdf", pdf, content_type="application/pdf")}
    return client.post("/verify/", {"code": code, **file})


def heading(answer: "Answer") -> str:
    page = answer.content.decode()
    return " ".join(page.partition("<h1>")[2].partition("</h1>")[0].split())


def bytes_of(document: IssuedDocument) -> bytes:
    return archive.read(document.sha256)


def test_it_works(cast: Cast, client: Client) -> None:
    document = slip(cast)
    answer = ask(client, pdf=bytes_of(document))
    assert answer.status_code == 200
    assert heading(answer) == GENUINE
    page = answer.content.decode()
    assert "Fernbrook Dental Rooms" in page
    assert "Appointment slip" in page
    assert "Tue 3 Mar 2026" in page


def test_it_shows_nothing_about_the_patient(cast: Cast, client: Client) -> None:
    document = slip(cast)
    for answer in (ask(client, pdf=bytes_of(document)), ask(client, code=document.verify_code)):
        page = answer.content.decode()
        for secret in (cast.patient.name, "Consultation", "1990", "Leila Haddad", cast.desk.name, "Your appointment"):
            assert secret not in page


def test_a_code_alone_is_known(cast: Cast, client: Client) -> None:
    document = slip(cast)
    assert heading(ask(client, code=document.grouped_code.lower().replace("-", " "))) == KNOWN


def test_code_and_file_together(cast: Cast, client: Client) -> None:
    one, two = slip(cast), slip(cast)
    assert heading(ask(client, code=one.verify_code, pdf=bytes_of(one))) == GENUINE
    assert heading(ask(client, code=one.verify_code, pdf=bytes_of(two))) == ALTERED


def test_an_unknown_code(cast: Cast, client: Client) -> None:
    slip(cast)
    answer = ask(client, code=codes.new())
    assert (answer.status_code, heading(answer)) == (200, UNKNOWN)
    assert "Fernbrook" not in answer.content.decode().partition("<h1>")[2]


def test_a_foreign_file_is_unknown(cast: Cast, client: Client) -> None:
    slip(cast)
    assert heading(ask(client, pdf=b"%PDF-1.7 of somebody else")) == UNKNOWN


def rewritten(pdf: bytes) -> bytes:
    """Opened and saved by another program."""
    writer = PdfWriter(clone_from=BytesIO(pdf))
    writer.add_metadata({"/Title": "Your cheaper appointment"})
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def appended(pdf: bytes) -> bytes:
    writer = PdfWriter(BytesIO(pdf), incremental=True)
    writer.add_metadata({"/Title": "Your cheaper appointment"})
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def one_digit_changed(pdf: bytes) -> bytes:
    return pdf.replace(b"0", b"1", 1)


@pytest.mark.parametrize("change", [lambda pdf: pdf + b"\n", rewritten, appended, one_digit_changed])
def test_an_altered_file_is_known_as_such(cast: Cast, client: Client, change: Callable[[bytes], bytes]) -> None:
    altered = change(bytes_of(slip(cast)))
    answer = ask(client, pdf=altered)
    assert heading(answer) == ALTERED
    assert "Do not rely on it" in answer.content.decode()


def test_nothing_is_kept_of_what_was_dropped(cast: Cast, client: Client) -> None:
    pdf = bytes_of(slip(cast))
    before = stored_files()
    with nothing_written(leave_out=("access_entry", *COUNT_OF_TRIES)):
        ask(client, pdf=pdf + b" private words" * 400_000)
    assert stored_files() == before


@pytest.mark.parametrize(
    ("code", "pdf", "sentence"),
    [
        ("", None, "Enter the code of the sheet, or choose its PDF file."),
        ("12345", None, "A code has 20 letters and digits"),
        ("\N{GRINNING FACE}" * 20, None, "A code has 20 letters and digits"),
        ("", b"GIF89a", "This file is not a PDF."),
        ("", b"", "This file is not a PDF."),
        ("x" * 300, None, "60"),
    ],
)
def test_bad_input_is_said_plainly(cast: Cast, client: Client, code: str, pdf: bytes | None, sentence: str) -> None:
    with nothing_written():
        answer = ask(client, code=code, pdf=pdf)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    if code:
        assert code in answer.content.decode()


def test_a_file_that_is_too_big_is_not_read_to_its_end(cast: Cast, client: Client) -> None:
    with nothing_written():
        answer = ask(client, pdf=b"%PDF-" + bytes(MOST_BYTES))
    assert answer.status_code == 422
    assert "larger than 25 MB" in answer.content.decode()


def test_a_form_from_elsewhere_is_refused(cast: Cast) -> None:
    strict = Client(enforce_csrf_checks=True)
    with nothing_written():
        assert ask(strict, code=codes.new()).status_code == 403
    page = strict.get("/verify/").content.decode()
    token = page.partition('name="csrfmiddlewaretoken" value="')[2].partition('"')[0]
    answer = strict.post("/verify/", {"csrfmiddlewaretoken": token, "code": codes.new()})
    assert (answer.status_code, heading(answer)) == (200, UNKNOWN)


def test_wrong_method(cast: Cast, client: Client) -> None:
    for method in (client.put, client.delete, client.patch):
        assert method("/verify/").status_code == 405


def test_the_page_itself(cast: Cast, client: Client) -> None:
    answer = client.get("/verify/")
    assert answer.status_code == 200
    assert heading(answer) == "Check whether a sheet is genuine"
    # Under "no-referrer" a real browser would send the form with an origin that is refused.
    assert answer.content.decode().rpartition('<meta name="referrer" content="')[2].startswith("same-origin")


def test_guessing_is_slowed(cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    document = slip(cast)
    monkeypatch.setattr("clinic.documents.views.verify.real_now", lambda: NOW)
    for _ in range(throttle.MOST):
        assert ask(client, code=codes.new()).status_code == 200
    answer = ask(client, code=document.verify_code)
    assert answer.status_code == 429
    assert "Too many documents were checked from here" in answer.content.decode()
    assert "Appointment slip" not in answer.content.decode()
    # Somebody else is not held up, and the same place not for long.
    assert client.post("/verify/", {"code": codes.new()}, REMOTE_ADDR="192.0.2.7").status_code == 200
    monkeypatch.setattr("clinic.documents.views.verify.real_now", lambda: NOW + throttle.STRETCH)
    assert ask(client, code=document.verify_code).status_code == 200


@pytest.mark.django_db
def test_old_counts_are_cleared_and_hold_no_address() -> None:
    throttle.count_try(source="a" * 64, now=NOW)
    throttle.count_try(source="a" * 64, now=NOW)
    assert CheckTries.objects.get().tries == 2
    throttle.count_try(source="b" * 64, now=NOW + timedelta(days=2))
    assert [row.source for row in CheckTries.objects.all()] == ["b" * 64]


@pytest.mark.parametrize(
    ("hops", "forwarded", "same_as"),
    [
        (0, "198.51.100.9", "127.0.0.1"),
        (1, "203.0.113.5, 198.51.100.9", "198.51.100.9"),
        (2, "203.0.113.5, 198.51.100.9", "203.0.113.5"),
        (2, "198.51.100.9", "127.0.0.1"),
    ],
)
def test_only_our_own_proxies_are_believed(rf: RequestFactory, hops: int, forwarded: str, same_as: str) -> None:
    with override_settings(ALLAUTH_TRUSTED_PROXY_COUNT=0):
        source = throttle.source_of(rf.get("/verify/", REMOTE_ADDR=same_as))
    with override_settings(ALLAUTH_TRUSTED_PROXY_COUNT=hops):
        assert throttle.source_of(rf.get("/verify/", HTTP_X_FORWARDED_FOR=forwarded)) == source
    assert same_as not in source
