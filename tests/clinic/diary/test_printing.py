"""The list of a day on paper: tagged, named only for whom it may be, noted in the trail, and not archived."""

from io import BytesIO
from typing import Any
from unittest.mock import patch

import pytest
import time_machine
from django.test import Client
from pypdf import PdfReader

from clinic.accounts.rights import Capability
from clinic.diary import marks, printing
from clinic.diary.models import ResourceClaim, ResourceKind
from clinic.documents import kinds
from clinic.documents.actions import WronglyKept, file_away, prepare, print_out
from clinic.documents.client import POOL
from clinic.documents.failures import RenderFailed
from clinic.documents.models import IssuedDocument
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import DAY, another_patient, at, book, elsewhere_booking, pencil
from tests.pdf import findings
from tests.support import nothing_written, stored_files

pytestmark = pytest.mark.usefixtures("_tuesday")
ADDRESS = f"/diary/{DAY.isoformat()}/list/"


@pytest.fixture
def _tuesday() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


def ask(client: Client) -> Answer:
    return client.post(ADDRESS)


def text_of(page: Answer) -> str:
    return "\n".join(one.extract_text() for one in PdfReader(BytesIO(page.content)).pages)


def test_it_works(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    elsewhere_booking(diary)
    first = book(diary, at(9))
    pencil(diary, at(13), patient=another_patient(diary))
    roomless = book(diary, at(11), patient=another_patient(diary, 2))
    ResourceClaim.objects.filter(booking=roomless, resource__kind=ResourceKind.ROOM).delete()
    found = {first.pk: marks.Mark("missing", ("Answers missing",))}
    monkeypatch.setattr(marks, "_providers", [lambda _bookings, _user, _now: found])
    client, files = sign_in(diary.desk), stored_files()
    page = ask(client)
    text = text_of(page)
    assert (page.status_code, page["Content-Type"], findings(page.content)) == (200, "application/pdf", [])
    for words in (
        "Day list, Wed 4 Mar 2026",
        "Amara Nwosu",
        "Consultation",
        "Willow",
        "CH",
        "Missing",
        "Answers missing",
    ):
        assert words in text
    for words in ("Ines Costa 1", "Pencilled", "Ines Costa 2", "3 visits"):
        assert words in text
    assert "Søren" not in text
    entry = TrailEntry.objects.get(verb="documents.printed")
    assert (entry.subject_kind, entry.subject_id, entry.actor_id) == ("diary", "2026-03-04", str(diary.desk.pk))
    # Nothing of so many people stays behind.
    assert stored_files() == files
    assert not IssuedDocument.objects.exists()


def test_a_day_without_visits(diary: Cast) -> None:
    assert "Nobody is booked" in text_of(ask(sign_in(diary.manager)))


def test_hidden_names_stay_hidden_on_paper(diary: Cast) -> None:
    book(diary, at(9))
    client = sign_in(diary.desk)
    client.cookies["casebook_names"] = "hidden"
    text = text_of(ask(client))
    assert "Amara" not in text
    assert "A. N." in text


def test_wrong_role(diary: Cast) -> None:
    """Who may read the diary but not the register gets initials."""
    book(diary, at(9))
    refused = patch.object(printing, "may", lambda _user, capability, _site: capability != Capability.PATIENTS_READ)
    with refused:
        text = text_of(ask(sign_in(diary.desk)))
    assert "Amara" not in text
    assert "A. N." in text


def test_wrong_method(diary: Cast) -> None:
    assert sign_in(diary.desk).get(ADDRESS).status_code == 405


def test_what_is_no_day(diary: Cast) -> None:
    client = sign_in(diary.desk)
    with nothing_written():
        for on in ("2026-02-30", "tomorrow", "9999-12-31"):
            assert client.post(f"/diary/{on}/list/").status_code == 404, on


def test_a_renderer_that_fails_leaves_nothing(diary: Cast) -> None:
    client = sign_in(diary.desk)
    with nothing_written(), patch.object(POOL, "draw", side_effect=RenderFailed("time")):
        assert ask(client)["Location"] == f"/diary/{DAY.isoformat()}/"


def test_a_kind_is_either_kept_or_not(diary: Cast) -> None:
    given: dict[str, Any] = {"site": diary.fernbrook, "context": {"lines": []}, "language": "en", "title": "x"}
    who: dict[str, Any] = {"subject": ("diary", "x"), "actor": actor_of(diary.desk)}
    assert kinds.get("appointment_slip").kept
    with nothing_written(), pytest.raises(WronglyKept):
        print_out(kind="appointment_slip", now=NOW, **given, **who)
    context = {"lines": [], "day": DAY, "with_names": True}
    prepared = prepare(kind="day_list", patient=None, now=NOW, **given | {"context": context})
    with nothing_written(), pytest.raises(WronglyKept):
        file_away(prepared, **who)


def test_in_large_print(diary: Cast) -> None:
    book(diary, at(9))
    client = sign_in(diary.desk)
    with patch.object(POOL, "draw", wraps=POOL.draw) as drawn:
        page = client.post(ADDRESS, {"large": "1"})
    assert (page.status_code, findings(page.content)) == (200, [])
    assert 'class="large"' in drawn.call_args.args[0].html
