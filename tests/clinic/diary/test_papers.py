"""Papers of a visit: the desk prints the slip from the page of the visit, in both sizes."""

from io import BytesIO

import pytest
import time_machine
from django.urls import reverse
from pypdf import PdfReader

from clinic.accounts.models import Site
from clinic.diary import actions
from clinic.diary.models import Booking, Status
from clinic.documents.client import POOL
from clinic.documents.failures import RenderFailed
from clinic.documents.models import IssuedDocument
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import at, book, pencil
from tests.pdf import findings
from tests.support import nothing_written


@pytest.fixture(autouse=True)
def _tuesday() -> object:
    with time_machine.travel(NOW, tick=False):
        yield


def address(booking: Booking, code: str = "slip") -> str:
    return reverse("booking_paper", args=[booking.pk, code])


def words_of(pdf: bytes) -> str:
    return " ".join("\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


@pytest.mark.parametrize(("country", "large"), [("GB", False), ("US", True)])
def test_it_works(diary: Cast, country: str, large: bool) -> None:
    Site.objects.update(country=country)
    booking = book(diary, at(9))
    desk = sign_in(diary.desk)
    assert f'action="{address(booking)}"' in desk.get(reverse("booking", args=[booking.pk])).content.decode()
    page = desk.post(address(booking), {"large": "1"} if large else {})
    assert (page.status_code, page["Content-Type"], findings(page.content)) == (200, "application/pdf", [])
    text = words_of(page.content)
    for said in ("Wed 4 Mar 2026, 09:00", "Cleo Haddad", "Takes about", "Fernbrook Dental Rooms, Fernbrook"):
        assert said in text
    assert "pencilled" not in text
    paper = IssuedDocument.objects.get()
    assert (paper.kind, paper.large_print, paper.patient) == ("appointment_slip", large, diary.patient)
    assert (paper.subject_kind, paper.subject_id) == ("booking", str(booking.pk))


def test_a_pencilled_time_says_so(diary: Cast) -> None:
    page = sign_in(diary.desk).post(address(pencil(diary, at(13))))
    assert "not confirmed yet. We keep it for you until Wed 4 Mar 2026, 09:00." in words_of(page.content)


def test_a_visit_that_is_off_has_no_slip(diary: Cast) -> None:
    booking = book(diary, at(9))
    actions.cancel(booking=booking, by="patient", why="", reason="", actor=actor_of(diary.desk), now=NOW)
    desk = sign_in(diary.desk)
    assert address(booking) not in desk.get(reverse("booking", args=[booking.pk])).content.decode()
    with nothing_written():
        assert desk.post(address(booking)).status_code == 404
        assert desk.post(address(booking, "receipt")).status_code == 404


def test_a_held_time_is_nobodys_visit_yet(diary: Cast) -> None:
    booking, desk = book(diary, at(9)), sign_in(diary.desk)
    Booking.objects.filter(pk=booking.pk).update(status=Status.PENDING, lapses_at=at(8))
    with nothing_written():
        assert desk.post(address(booking)).status_code == 404


def failing(_job: object) -> None:
    raise RenderFailed("busy")


def test_what_cannot_be_drawn_leaves_nothing(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    booking, desk = book(diary, at(9)), sign_in(diary.desk)
    monkeypatch.setattr(POOL, "draw", failing)
    with nothing_written():
        page = desk.post(address(booking))
    assert (page.status_code, "could not be made (busy)" in page.content.decode()) == (409, True)


def larger(paper: IssuedDocument) -> str:
    return reverse("document_larger", args=[paper.pk])


def test_the_same_in_large_print_later(diary: Cast) -> None:
    """Beside each paper in the lists; what is large already has no such button."""
    booking, desk = book(diary, at(9)), sign_in(diary.desk)
    desk.post(address(booking))
    plain = IssuedDocument.objects.get()
    of_patient = reverse("patient", args=[diary.patient.pk])
    assert larger(plain) in desk.get(of_patient).content.decode()
    page = desk.post(larger(plain))
    assert (page["Content-Type"], "Wed 4 Mar 2026, 09:00" in words_of(page.content)) == ("application/pdf", True)
    large = IssuedDocument.objects.get(large_print=True)
    assert larger(large) not in desk.get(of_patient).content.decode()
    actions.cancel(booking=booking, by="patient", why="", reason="", actor=actor_of(diary.desk), now=NOW)
    with nothing_written():
        assert desk.post(larger(large)).status_code == 404
        refused = desk.post(larger(plain))
    assert (refused.status_code, "does not stand any more" in refused.content.decode()) == (409, True)
