"""Issuing a document: its bytes, its row, its trail, and what a refusal leaves behind: nothing."""

import hashlib
from datetime import UTC, datetime
from io import BytesIO
from unittest.mock import patch

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.utils import DatabaseError
from django.utils.translation import gettext_lazy
from pypdf import PdfReader

from clinic.documents import archive, kinds
from clinic.documents.actions import file_away, prepare
from clinic.documents.client import POOL
from clinic.documents.failures import RenderFailed
from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of
from tests.catalogues import Catalogues
from tests.clinic.documents.drawing_jobs import text_of
from tests.clinic.documents.slips import SLIP, slip
from tests.pdf import findings
from tests.support import nothing_written


def bytes_of(document: IssuedDocument) -> bytes:
    return archive.read(document.sha256)


def test_it_works(cast: Cast) -> None:
    document = slip(cast)
    pdf = bytes_of(document)
    assert document.sha256 == hashlib.sha256(pdf).hexdigest()
    assert (document.byte_size, document.pages) == (len(pdf), 1)
    assert (document.kind, document.template_version, document.language) == ("appointment_slip", 1, "en")
    assert (document.subject_kind, document.subject_id) == ("booking", "7")
    assert (document.issued_by_id, document.issued_by_name) == (str(cast.desk.pk), cast.desk.name)
    assert document.issued_at == NOW
    assert document.undrawn == ""
    assert findings(pdf) == []


def test_it_says_where_when_and_who_on_each_page(cast: Cast) -> None:
    document = slip(cast, context=SLIP | {"note": "Words. " * 1200})
    pages = [page.extract_text() for page in PdfReader(BytesIO(bytes_of(document))).pages]
    assert document.pages == len(pages) > 1
    for number, page in enumerate(pages, start=1):
        assert "Fernbrook Dental Rooms" in page
        assert "Amara Nwosu, born 17 May 1990" in page
        assert "Your appointment · Tue 3 Mar 2026" in page
        assert f"Page {number} of {len(pages)}" in page


def test_times_are_those_of_the_site(cast: Cast) -> None:
    """13:30 UTC is half past two on a summer afternoon in Fernbrook."""
    assert "Tue 14 Jul 2026, 14:30" in text_of(bytes_of(slip(cast)))


def test_it_carries_its_code_and_the_cautions(cast: Cast) -> None:
    document = slip(cast)
    text = " ".join(text_of(bytes_of(document)).split())
    assert document.grouped_code in text
    assert "localhost/verify/" in text
    assert "This sheet goes with what your clinician told you and does not replace it." in text


def test_the_trail_holds_it(cast: Cast) -> None:
    document = slip(cast)
    entry = TrailEntry.objects.get(verb="documents.issued")
    assert (entry.subject_kind, entry.subject_id) == ("document", str(document.pk))
    assert (entry.patient_id, entry.site_id) == (cast.patient.pk, cast.fernbrook.pk)
    assert entry.actor_id == str(cast.desk.pk)
    assert entry.fields == "about byte_size kind language pages sha256 template_version"


def test_a_patient_who_signs_is_not_named_in_clear(cast: Cast) -> None:
    person = Actor(kind="patient", id=str(cast.patient.pk), name="Amara Nwosu")
    assert slip(cast, actor=person).issued_by_name == ""


@pytest.mark.parametrize(
    ("language", "becomes"), [("en", "en"), ("es", "en"), ("de", "de"), ("de-at", "de"), ("ar", "ar"), ("pl", "en")]
)
def test_it_speaks_the_patients_language(cast: Cast, catalogues: Catalogues, language: str, becomes: str) -> None:
    catalogues.install("de", "ar", "es", unfinished="es")
    document = slip(cast, language=language)
    root = PdfReader(BytesIO(bytes_of(document))).root_object
    assert (document.language, str(root["/Lang"])) == (becomes, becomes)
    assert document.undrawn == ""
    assert findings(bytes_of(document)) == []


def test_the_word_for_the_patients_language_is_not_the_callers(cast: Cast, catalogues: Catalogues) -> None:
    catalogues.install("de")
    document = slip(cast, language="de", title=gettext_lazy("Monday"))
    assert document.title == "Montag"


@pytest.mark.parametrize(("unfinished", "page"), [("", 'lang="ar" dir="rtl"'), ("ar", 'lang="en" dir="ltr"')])
def test_a_sheet_runs_from_right_to_left_only_in_a_language_that_is_whole(
    cast: Cast, catalogues: Catalogues, unfinished: str, page: str
) -> None:
    catalogues.install("ar", unfinished=unfinished)
    with patch.object(POOL, "draw", wraps=POOL.draw) as drawn:
        slip(cast, language="ar")
    job = drawn.call_args.args[0]
    assert f"<html {page}>" in job.html
    assert job.language in page


@pytest.mark.parametrize(("country", "width", "height"), [("GB", 595, 842), ("US", 612, 792)])
def test_the_paper_is_that_of_the_country(cast: Cast, country: str, width: int, height: int) -> None:
    cast.fernbrook.country = country
    box = PdfReader(BytesIO(bytes_of(slip(cast, site=cast.fernbrook)))).pages[0].mediabox
    assert (round(box.width), round(box.height)) == (width, height)


def test_large_print_is_larger(cast: Cast) -> None:
    plain, large = slip(cast), slip(cast, large_print=True)
    assert (plain.large_print, large.large_print) == (False, True)
    assert sizes(bytes_of(plain)) == {11.0}
    assert sizes(bytes_of(large)) == {16.0}


def sizes(pdf: bytes) -> set[float]:
    """At which size, in points, the facts of the slip are set."""
    found = set()

    def visit(text: str, _matrix: object, text_matrix: list[float], _font: object, size: float) -> None:
        if "Consultation" in text:
            found.add(round(abs(text_matrix[0]) * size, 1))

    PdfReader(BytesIO(pdf)).pages[0].extract_text(visitor_text=visit)
    return found


def test_names_are_escaped(cast: Cast) -> None:
    cast.patient.name = '<script>alert(1)</script> & Zoë "O\'Neill"'
    text = text_of(bytes_of(slip(cast, patient=cast.patient)))
    assert cast.patient.name in text


def test_a_name_that_cannot_be_drawn_is_told(cast: Cast) -> None:
    cast.patient.name = "Mia 😀 Wong 王"
    document = slip(cast, patient=cast.patient)
    assert document.undrawn == "王😀"
    text = text_of(bytes_of(document))
    assert "Mia \ufffd Wong \ufffd, born 17 May 1990" in text


def test_two_slips_are_two_files(cast: Cast) -> None:
    first, second = slip(cast), slip(cast)
    assert first.verify_code != second.verify_code
    assert first.sha256 != second.sha256


def test_a_sheet_that_cannot_be_drawn_leaves_nothing(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise RenderFailed("time")

    patient = cast.patient
    monkeypatch.setattr("clinic.documents.rendering.POOL.draw", fail)
    with nothing_written(), pytest.raises(RenderFailed) as caught:
        slip(cast, patient=patient)
    assert str(caught.value).startswith("The document could not be made (time). Nothing was saved.")


def test_preparing_writes_nothing(cast: Cast) -> None:
    patient = cast.patient
    with nothing_written():
        prepared = prepare(
            kind="appointment_slip",
            patient=patient,
            site=cast.fernbrook,
            context=SLIP,
            language="en",
            title="Your appointment",
            now=NOW,
        )
    with transaction.atomic():
        document = file_away(prepared, subject=("booking", 7), actor=actor_of(cast.desk))
    assert bytes_of(document) == prepared.drawing.pdf


def test_an_unknown_kind_is_a_programming_error(cast: Cast) -> None:
    patient = cast.patient
    with nothing_written(), pytest.raises(kinds.UnknownKind):
        slip(cast, patient=patient, kind="no_such_kind")


def test_it_is_about_its_subject(cast: Cast) -> None:
    document = slip(cast)
    slip(cast, subject=("booking", 8))
    assert list(IssuedDocument.objects.about(("booking", 7))) == [document]


@pytest.mark.django_db(transaction=False)
def test_a_row_can_be_neither_changed_nor_removed(cast: Cast) -> None:
    document = slip(cast)
    for attempt in (
        lambda: IssuedDocument.objects.filter(pk=document.pk).update(title="Something else"),
        lambda: IssuedDocument.objects.filter(pk=document.pk).delete(),
    ):
        with pytest.raises(DatabaseError, match="only grows"), transaction.atomic():
            attempt()
    document.refresh_from_db()
    assert document.title == "Your appointment"


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("sha256", "not a hash"),
        ("verify_code", "I" * 20),
        ("byte_size", 0),
        ("pages", 0),
        ("template_version", 0),
        ("kind", ""),
        ("language", ""),
    ],
)
def test_the_database_refuses_what_makes_no_sense(cast: Cast, field: str, value: object) -> None:
    document = slip(cast)
    columns = {
        "pk": None,
        "sha256": "0" * 64,
        "verify_code": "0" * 20,
        "file_identifier": "0" * 32,
        field: value,
    }
    for name, new in columns.items():
        setattr(document, name, new)
    document._state.adding = True
    with pytest.raises(IntegrityError), transaction.atomic():
        document.save(force_insert=True)


@pytest.mark.parametrize("field", ["sha256", "verify_code", "file_identifier"])
def test_the_database_refuses_a_second_one(cast: Cast, field: str) -> None:
    document = slip(cast)
    fresh = {"sha256": "0" * 64, "verify_code": "0" * 20, "file_identifier": "0" * 32}
    del fresh[field]
    document.pk = None
    document._state.adding = True
    for name, new in fresh.items():
        setattr(document, name, new)
    with pytest.raises(IntegrityError), transaction.atomic():
        document.save(force_insert=True)


def test_the_time_is_kept_with_its_instant(cast: Cast) -> None:
    late = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    document = slip(cast, now=late)
    document.refresh_from_db()
    assert document.issued_at == late
    assert connection.vendor in {"sqlite", "postgresql"}
