"""Filing what came in for a patient, and opening it again: who may, what is refused, how it is served."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse

from clinic.documents import incoming, resting, uploads
from clinic.documents.models import IncomingPaper, PaperKind, PaperMistake
from clinic.trail.backup import files
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.papers import a_pdf, a_picture, filed, look_here, upload
from tests.support import nothing_written

pytestmark = [pytest.mark.django_db]


@pytest.fixture(autouse=True)
def _at_hand(cast: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    # Made when first asked for: not by what is refused.
    assert cast.patient.pk
    monkeypatch.setattr(settings, "FILES_DIR", tmp_path)
    look_here(monkeypatch)
    with time_machine.travel(NOW, tick=False):
        yield


def address(cast: Cast) -> str:
    return reverse("patient_papers", args=[cast.patient.pk])


def send(client: Client, cast: Cast, content: bytes | None = None, **changed: Any) -> Answer:
    fields: dict[str, Any] = {
        "kind": "letter",
        "sender": "Dr Ilse Aumann",
        "dated_on": "2 3 2026",
        "received_on": "3 3 2026",
        "file": upload(a_pdf() if content is None else content),
    }
    return client.post(address(cast), {name: value for name, value in (fields | changed).items() if value != ""})


def opened(cast: Cast, paper: IncomingPaper, who: str) -> Answer:
    return sign_in(getattr(cast, who)).get(reverse("incoming_file", args=[paper.pk]))


def test_it_works(cast: Cast) -> None:
    """The desk opens the post and files it; the dentist reads it."""
    desk = sign_in(cast.desk)
    assert "The scan" in desk.get(address(cast)).content.decode()
    assert send(desk, cast, a_pdf(3))["Location"] == reverse("patient", args=[cast.patient.pk])
    paper = IncomingPaper.objects.get()
    assert (paper.patient, paper.kind, paper.sender, paper.pages) == (cast.patient, "letter", "Dr Ilse Aumann", 3)
    assert (str(paper.dated_on), str(paper.received_on)) == ("2026-03-02", "2026-03-03")
    assert (paper.filed_at, paper.filed_by, paper.media_type) == (NOW, cast.desk, "application/pdf")
    assert incoming.path_of(paper.sha256, paper.media_type).stat().st_mode & 0o777 == 0o600
    entry = TrailEntry.objects.get(verb="documents.filed")
    assert (entry.patient_id, "Aumann" in entry.sealed_values) == (cast.patient.pk, False)
    answer = opened(cast, paper, "clinician")
    assert (answer.status_code, answer.content) == (200, a_pdf(3))
    assert answer["Content-Disposition"] == f'attachment; filename="letter-2026-03-03-{paper.sha256[:5]}.pdf"'
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"] == "sandbox; default-src 'none'"
    assert answer["Cache-Control"] == "private, no-store"


def test_what_the_patients_page_says(cast: Cast) -> None:
    filed(cast.patient, cast.desk)
    page = reverse("patient", args=[cast.patient.pk])
    assert "Letter of a doctor or specialist, Dr Ilse Aumann" in sign_in(cast.clinician).get(page).content.decode()
    seen = sign_in(cast.desk).get(page).content.decode()
    assert ("Aumann" in seen, "1 paper that only those who treat may open." in seen) == (False, True)


@pytest.mark.parametrize(("kind", "who"), [
    (PaperKind.LETTER, {"clinician"}),
    (PaperKind.OTHER, {"clinician"}),
    # The word alone, said by whoever scanned it, opens nothing: it may be a letter after all.
    (PaperKind.CONSENT, {"clinician"}),
])  # fmt: skip
def test_who_may_open_it(cast: Cast, kind: PaperKind, who: set[str]) -> None:
    paper = filed(cast.patient, cast.desk, kind=kind)
    people = ("desk", "assistant", "clinician", "hygienist", "manager")
    assert {one for one in people if opened(cast, paper, one).status_code == 200} == who
    assert opened(cast, paper, "elsewhere").status_code == 404


def test_a_consent_is_open_to_whoever_filed_it_and_once_it_is_read_to_all_who_read_consents(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = filed(cast.patient, cast.assistant, kind=PaperKind.CONSENT, sender="")
    people = ("desk", "assistant", "clinician", "hygienist", "manager")
    assert {one for one in people if opened(cast, own, one).status_code == 200} == {"assistant", "clinician"}
    letter = filed(cast.patient, cast.assistant, content=a_pdf(2))
    monkeypatch.setattr(resting, "_asked", [lambda _paper: True])
    read = {"assistant", "clinician", "hygienist"}
    assert {one for one in people if opened(cast, own, one).status_code == 200} == read
    # What rests on a letter makes no consent of it.
    assert {one for one in people if opened(cast, letter, one).status_code == 200} == {"clinician"}


def test_wrong_role_and_other_site(cast: Cast) -> None:
    manager, elsewhere = sign_in(cast.manager), sign_in(cast.elsewhere)
    with nothing_written():
        assert send(manager, cast).status_code == 403
        assert send(elsewhere, cast).status_code == 404


@pytest.mark.parametrize(("changed", "status", "words"), [
    ({"kind": ""}, 422, "Say what kind of paper it is."),
    ({"sender": ""}, 422, "Write who wrote the letter."),
    ({"dated_on": ""}, 422, "Write the date that stands on the letter."),
    ({"received_on": "4 3 2026"}, 409, "neither have come in after today"),
    ({"dated_on": "4 3 2026"}, 409, "neither have come in after today"),
    ({"file": ""}, 422, "Choose the scan."),
])  # fmt: skip
def test_refusals(cast: Cast, changed: dict[str, Any], status: int, words: str) -> None:
    desk = sign_in(cast.desk)
    with nothing_written():
        answer = send(desk, cast, **changed)
    assert (answer.status_code, words in answer.content.decode()) == (status, True)
    assert changed == {"sender": ""} or "Dr Ilse Aumann" in answer.content.decode()


@pytest.mark.parametrize("content", [b"<script>alert(1)</script>", b"", a_pdf()[:60]])
def test_a_file_that_is_no_paper(cast: Cast, content: bytes) -> None:
    desk = sign_in(cast.desk)
    with nothing_written():
        answer = send(desk, cast, content)
    assert answer.status_code == 409


def test_a_file_that_is_too_large_is_not_read_to_its_end(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(uploads, "MOST_BYTES", 100)
    desk = sign_in(cast.desk)
    with nothing_written():
        answer = send(desk, cast)
    page = answer.content.decode()
    assert (answer.status_code, "larger than 25 MB" in page, "Dr Ilse Aumann" in page) == (422, True, True)
    assert "Choose the scan." not in page


def test_the_same_file_twice(cast: Cast) -> None:
    desk = sign_in(cast.desk)
    send(desk, cast)
    with nothing_written():
        answer = send(desk, cast)
    assert (answer.status_code, "filed for this patient already, on Tue 3 Mar 2026" in answer.content.decode()) == (
        409, True,
    )  # fmt: skip
    # Another patient may have been sent the same leaflet: one file, two rows.
    filed(cast.teenager, cast.desk)
    assert len(list(incoming.referenced("default"))) == 1


@pytest.mark.parametrize("format_", ["JPEG", "PNG"])
def test_a_picture_is_served_as_what_it_is(cast: Cast, format_: str) -> None:
    send(sign_in(cast.desk), cast, a_picture(format_))
    paper = IncomingPaper.objects.get()
    answer = opened(cast, paper, "clinician")
    assert (answer["Content-Type"], answer.content) == (f"image/{format_.lower()}", a_picture(format_))


def test_checked_and_backed_up_with_the_others(cast: Cast) -> None:
    paper = filed(cast.patient, cast.desk)
    assert ("incoming", incoming.referenced) in files._lookups.items()
    call_command("documents_verify")
    incoming.path_of(paper.sha256, paper.media_type).write_bytes(b"%PDF-1.7 another")
    with pytest.raises(CommandError):
        call_command("documents_verify")
    answer = opened(cast, paper, "clinician")
    assert (answer.status_code, b"no longer what was issued" in answer.content) == (409, True)


def take_out(client: Client, paper: IncomingPaper, why: str = "It is Jip's.") -> Answer:
    return client.post(reverse("paper_mistake", args=[paper.pk]), {"why": why})


def test_filed_for_the_wrong_patient(cast: Cast) -> None:
    """By whoever filed it, although the desk may not read it; nobody opens it here any more."""
    paper, desk = filed(cast.patient, cast.desk), sign_in(cast.desk)
    assert "Filed by mistake" in sign_in(cast.clinician).get(address(cast)).content.decode()
    assert take_out(desk, paper)["Location"] == reverse("patient", args=[cast.patient.pk])
    row = PaperMistake.objects.get()
    assert (row.paper, row.why, row.marked_by) == (paper, "It is Jip's.", cast.desk)
    assert opened(cast, paper, "clinician").status_code == 403
    page = sign_in(cast.clinician).get(address(cast)).content.decode()
    assert ("Filed by mistake: letter" in " ".join(page.split()), "Aumann" in page) == (True, False)
    with nothing_written():
        assert take_out(desk, paper).status_code == 409
        answer = send(desk, cast)
    assert (answer.status_code, "noted as a mistake" in answer.content.decode()) == (409, True)
    send(desk, cast, a_pdf(2))
    assert IncomingPaper.objects.standing().get().pages == 2


def test_who_may_say_that_it_is_a_mistake(cast: Cast) -> None:
    paper = filed(cast.patient, cast.clinician)
    for who, status in (("desk", 403), ("assistant", 403), ("manager", 403), ("elsewhere", 404)):
        client = sign_in(getattr(cast, who))
        with nothing_written():
            assert take_out(client, paper).status_code == status
    dentist = sign_in(cast.clinician)
    with nothing_written():
        assert take_out(dentist, paper, why=" ").status_code == 409
    with nothing_written(), pytest.raises(IntegrityError), transaction.atomic():
        PaperMistake.objects.create(paper=paper, why="", marked_at=NOW, marked_by=cast.clinician)


def test_a_paper_that_something_rests_on(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(resting, "_asked", [lambda _paper: True])
    paper, desk = filed(cast.patient, cast.desk), sign_in(cast.desk)
    with nothing_written():
        answer = take_out(desk, paper)
    assert (answer.status_code, "rests on this paper" in answer.content.decode()) == (409, True)


def test_rows_only_grow(cast: Cast) -> None:
    filed(cast.patient, cast.desk)
    for sql in ("UPDATE clinic_documents_incomingpaper SET id = id", "DELETE FROM clinic_documents_incomingpaper"):
        with nothing_written(), pytest.raises(IntegrityError, match="only grows"), transaction.atomic():
            connection.cursor().execute(sql)


@pytest.mark.parametrize("changed", [
    {"kind": "leaflet"}, {"sender": ""}, {"dated_on": None}, {"received_on": "2026-03-01"}, {"byte_size": 0},
])  # fmt: skip
def test_the_database_refuses_too(cast: Cast, changed: dict[str, Any]) -> None:
    paper = filed(cast.patient, cast.desk)
    paper.pk, paper.sha256 = None, "0" * 64
    for field, value in changed.items():
        setattr(paper, field, value)
    with nothing_written(), pytest.raises(IntegrityError), transaction.atomic():
        paper.save(force_insert=True)
