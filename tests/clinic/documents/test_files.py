"""Opening an issued file, as staff."""

from typing import Any

import pytest
from django.test import Client

from clinic.documents import archive, kinds
from clinic.trail import access
from tests.cast import Cast, sign_in
from tests.clinic.documents.slips import slip
from tests.support import nothing_written

CLINICAL = kinds.DocumentKind(
    code="test_findings", word="findings", clinical=True, template="documents/appointment_slip.html", version=1
)


@pytest.fixture
def noted(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, object]]:
    """Who was noted as having read what."""
    seen: list[dict[str, object]] = []
    real = access.note_read

    def note(**what: Any) -> None:
        seen.append(what)
        real(**what)

    monkeypatch.setattr("clinic.documents.views.files.note_read", note)
    return seen


@pytest.fixture
def clinical_kind(monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setattr(kinds, "_kinds", {**kinds.registered(), CLINICAL.code: CLINICAL})
    return CLINICAL.code


def test_it_works(cast: Cast, noted: list[dict[str, object]]) -> None:
    document = slip(cast)
    browser = sign_in(cast.desk)
    with nothing_written():
        answer = browser.get(f"/documents/{document.pk}/")
    assert answer.status_code == 200
    assert answer.content == archive.read(document.sha256)
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"] == "sandbox; default-src 'none'"
    assert answer["Cross-Origin-Resource-Policy"] == "same-origin"
    assert answer["Cache-Control"] == "private, no-store"
    name = f"appointment-slip-2026-03-03-{document.verify_code[:5]}.pdf"
    assert answer["Content-Disposition"] == f'attachment; filename="{name}"'
    assert [(what["what"], what["subject"]) for what in noted] == [("documents.file", ("document", document.pk))]
    assert noted[0]["patient_id"] == cast.patient.pk


def test_it_can_be_shown_in_the_browser(cast: Cast) -> None:
    answer = sign_in(cast.desk).get(f"/documents/{slip(cast).pk}/?show")
    assert answer["Content-Disposition"].startswith("inline; ")


@pytest.mark.parametrize("role", ["desk", "manager"])
def test_wrong_role(cast: Cast, clinical_kind: str, noted: list[dict[str, object]], role: str) -> None:
    """The desk and the manager hand out slips; findings are for those who may see clinical answers."""
    document = slip(cast, kind=clinical_kind)
    browser = sign_in(getattr(cast, role))
    with nothing_written():
        answer = browser.get(f"/documents/{document.pk}/")
    assert answer.status_code == 403
    assert b"%PDF" not in answer.content
    assert noted == []


def test_an_assistant_needs_the_right_to_see_answers(cast: Cast, clinical_kind: str) -> None:
    document = slip(cast, kind=clinical_kind)
    cast.assistant.may_see_clinical_answers = False
    cast.assistant.save()
    assert sign_in(cast.assistant).get(f"/documents/{document.pk}/").status_code == 403
    cast.assistant.may_see_clinical_answers = True
    cast.assistant.save()
    assert sign_in(cast.assistant).get(f"/documents/{document.pk}/").status_code == 200


def test_a_kind_that_is_gone_counts_as_clinical(
    cast: Cast, clinical_kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    document = slip(cast, kind=clinical_kind)
    monkeypatch.setattr(kinds, "_kinds", {})
    assert sign_in(cast.desk).get(f"/documents/{document.pk}/").status_code == 403


def test_other_site(cast: Cast, noted: list[dict[str, object]]) -> None:
    document = slip(cast, patient=cast.stranger)
    browser = sign_in(cast.desk)
    with nothing_written():
        assert browser.get(f"/documents/{document.pk}/").status_code == 404
    assert noted == []


def test_one_that_does_not_exist(cast: Cast) -> None:
    assert sign_in(cast.desk).get("/documents/987654/").status_code == 404


def test_signed_out(cast: Cast) -> None:
    answer = Client().get(f"/documents/{slip(cast).pk}/")
    assert answer.status_code == 302
    assert b"%PDF" not in answer.content


def test_wrong_method(cast: Cast) -> None:
    document, browser = slip(cast), sign_in(cast.desk)
    with nothing_written():
        assert browser.post(f"/documents/{document.pk}/").status_code == 405


def test_a_damaged_file_is_not_shown(cast: Cast, noted: list[dict[str, object]]) -> None:
    document = slip(cast)
    archive.path_of(document.sha256).write_bytes(b"%PDF-1.7 something else")
    answer = sign_in(cast.desk).get(f"/documents/{document.pk}/")
    assert answer.status_code == 409
    assert "no longer what was issued" in answer.content.decode()
    assert noted == []


def test_a_lost_file_is_said_to_be_lost(cast: Cast) -> None:
    document = slip(cast)
    archive.path_of(document.sha256).unlink()
    answer = sign_in(cast.desk).get(f"/documents/{document.pk}/")
    assert answer.status_code == 409
    assert "brought back from a backup" in answer.content.decode()
