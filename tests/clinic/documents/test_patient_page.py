"""The list of documents on the patient's page: those the reader may open, and no others."""

import pytest

from clinic.documents import kinds
from tests.cast import Cast, sign_in
from tests.clinic.documents.slips import slip

FINDINGS = kinds.DocumentKind(
    code="test_findings", word="findings", clinical=True, template="documents/appointment_slip.html", version=1
)


@pytest.fixture
def both(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Cast:
    """One slip and one clinical document of the same patient."""
    monkeypatch.setattr(kinds, "_kinds", {**kinds.registered(), FINDINGS.code: FINDINGS})
    slip(cast)
    slip(cast, kind=FINDINGS.code)
    return cast


def page(cast: Cast, role: str) -> str:
    return sign_in(getattr(cast, role)).get(f"/patients/{cast.patient.pk}/").content.decode()


def test_a_clinician_sees_all(both: Cast) -> None:
    shown = page(both, "clinician")
    assert "Appointment slip, Tue 3 Mar 2026" in shown
    assert "Findings, Tue 3 Mar 2026" in shown


def test_the_desk_sees_what_it_hands_out(both: Cast) -> None:
    shown = page(both, "desk")
    assert "Appointment slip, Tue 3 Mar 2026" in shown
    assert "Findings" not in shown


def test_an_empty_list_says_what_will_be_there(cast: Cast) -> None:
    assert "Sheets that were given to this patient will be listed here." in page(cast, "desk")


def test_what_could_not_be_printed_is_told(cast: Cast) -> None:
    cast.patient.name = "Mia 王"
    slip(cast, patient=cast.patient)
    assert "Write in by hand before you give it out: 王" in page(cast, "desk")
