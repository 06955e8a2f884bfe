"""Letters for whoever wants paper: drawn together, and posted only when somebody says so."""

from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from django.conf import settings
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from clinic.documents.models import IssuedDocument
from clinic.messages import kinds
from clinic.messages.actions.posting import make_batch, post_batch, put_back
from clinic.messages.models import Call, DueMessage, LetterBatch, Outcome, State, Why
from clinic.messages.paper import POST_TAKES
from clinic.messages.posting import BatchEnded, NoLetterLeft, draw
from clinic.messages.sweep import sweep
from clinic.patients.models import Patient
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.clinic.messages.writing import CHECK, REMINDER, Planned, Wishes, another, later, verbs
from tests.pdf import findings
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("at_now")

PAGE = "/letters/"
ADDRESS = "3 Mill Lane\nFernbrook FB1 2AB"
TOO_LATE = later(days=4)


@pytest.fixture
def on_paper(cast: Cast, planned: Planned, monkeypatch: pytest.MonkeyPatch) -> Cast:
    """The cast's patient wants letters, and a reminder has to have arrived eight days after it was due."""
    by_post = replace(kinds.get(REMINDER), letter_by=lambda _patient, message: message.due_at + 2 * POST_TAKES)
    monkeypatch.setitem(kinds._kinds, REMINDER, by_post)
    change(cast.patient, channel="letter", address=ADDRESS)
    return cast


@pytest.fixture
def waiting(on_paper: Cast, planned: Planned) -> Call:
    planned()
    sweep(now=NOW)
    return Call.objects.get()


def change(patient: Patient, **values: object) -> None:
    Patient.objects.filter(pk=patient.pk).update(**values)


def made(cast: Cast) -> LetterBatch:
    batch = make_batch(site=cast.fernbrook, user=cast.desk, actor=cast.desk.actor, now=NOW)
    assert batch is not None
    return batch


def press(cast: Cast, name: str, batch: LetterBatch | None = None) -> Answer:
    where = reverse(name, args=[batch.pk] if batch else [])
    return sign_in(cast.desk).post(where, follow=True)


def test_it_works(on_paper: Cast, waiting: Call) -> None:
    """From the list into one PDF, and into the post: the message is handed over by letter, and nobody calls."""
    client = sign_in(on_paper.desk)
    assert "1 letter to print" in client.get(PAGE).content.decode()
    assert not Call.objects.to_make(now=NOW).exists()
    assert "Open the PDF and print it." in press(on_paper, "letters_make").content.decode()
    batch = LetterBatch.objects.get()
    pdf = press(on_paper, "letters_print", batch)
    assert (pdf["Content-Type"], findings(pdf.content)) == ("application/pdf", [])
    pages = [one.extract_text() for one in PdfReader(BytesIO(pdf.content)).pages]
    assert len(pages) == 2
    assert "Letters to post · Tue 3 Mar 2026" in pages[0]
    for words in ("Fernbrook Dental Rooms", "Amara Nwosu", "3 Mill Lane", "Hello Amara Nwosu", "+44 20 7946 0100"):
        assert words in pages[1]
    assert "http" not in pages[1]
    waiting.refresh_from_db()
    assert waiting.settled_at is None
    assert "1 letter is noted as posted." in press(on_paper, "letters_posted", batch).content.decode()
    waiting.refresh_from_db()
    assert (waiting.outcome, waiting.settled_by) == (Outcome.POSTED, "Dana Popescu")
    message = DueMessage.objects.get()
    assert (message.state, message.channel, message.handed_over_at) == (State.HANDED_OVER, "letter", NOW)
    assert verbs()[-2:] == ["messages.letters_made", "messages.posted"]
    assert not IssuedDocument.objects.exists()


def test_wrong_role(on_paper: Cast, waiting: Call) -> None:
    client = sign_in(on_paper.manager)
    with nothing_written():
        assert client.get(PAGE).status_code == 403
        assert client.post(reverse("letters_make")).status_code == 403


def test_other_site(on_paper: Cast, waiting: Call) -> None:
    batch, client = made(on_paper), sign_in(on_paper.elsewhere_desk)
    assert "Nothing is to be printed" in client.get(PAGE).content.decode()
    with nothing_written():
        for name in ("letters_print", "letters_posted", "letters_put_back"):
            assert client.post(reverse(name, args=[batch.pk])).status_code == 404


def test_put_back_it_waits_again(on_paper: Cast, waiting: Call) -> None:
    batch = made(on_paper)
    with nothing_written():
        assert make_batch(site=on_paper.fernbrook, user=on_paper.desk, actor=on_paper.desk.actor, now=NOW) is None
    assert "Nothing counts as posted" in press(on_paper, "letters_put_back", batch).content.decode()
    assert list(Call.objects.to_print(now=NOW)) == [waiting]
    with nothing_written():
        assert "Somebody has noted already" in press(on_paper, "letters_posted", batch).content.decode()
        assert press(on_paper, "letters_print", batch).status_code == 409


def test_posted_once(on_paper: Cast, waiting: Call) -> None:
    batch, user = made(on_paper), on_paper.desk
    assert post_batch(batch=batch, user=user, actor=user.actor, now=NOW) == 1
    with nothing_written():
        for act in (post_batch, put_back):
            with pytest.raises(BatchEnded):
                act(batch=batch, user=user, actor=user.actor, now=NOW)


def test_too_late_for_the_post_it_is_a_call(on_paper: Cast, waiting: Call) -> None:
    """By the clock alone: nobody has to look at the letters for it."""
    assert waiting.post_by == TOO_LATE
    assert list(Call.objects.to_make(now=TOO_LATE)) == [waiting]
    assert not Call.objects.on_paper(now=TOO_LATE).exists()


def test_a_batch_that_lies_too_long_becomes_calls(on_paper: Cast, waiting: Call) -> None:
    batch, user = made(on_paper), on_paper.desk
    with pytest.raises(NoLetterLeft):
        draw(batch=batch, user=user, actor=user.actor, now=TOO_LATE)
    assert list(Call.objects.to_make(now=NOW)) == [waiting]


@pytest.mark.parametrize("change_of", ["wanted", "address", "choice"])
def test_conditions_are_read_again(on_paper: Cast, waiting: Call, wishes: Wishes, change_of: str) -> None:
    """No longer wanted: settled, and nobody calls. Without an address: a call."""
    if change_of == "wanted":
        wishes.wanted = "changed since"
    elif change_of == "address":
        change(on_paper.patient, address="")
    else:
        choice = {"purpose": "appointment", "allowed": False, "wording": "No.", "chosen_at": NOW, "chosen_by": "them"}
        on_paper.patient.contact_choices.create(**choice)
    page = press(on_paper, "letters_make").content.decode()
    assert "No letter is to be printed here any more." in page
    waiting.refresh_from_db()
    becomes_call = change_of == "address"
    assert (waiting.settled_at is None, waiting.post_by) == (becomes_call, None if becomes_call else TOO_LATE)
    assert (DueMessage.objects.get().state == State.CANCELLED) == (not becomes_call)
    assert waiting.outcome == ("" if becomes_call else Outcome.OVER)
    assert ("messages.call_settled" in verbs()) == (not becomes_call)
    assert not LetterBatch.objects.exists()


@pytest.mark.parametrize(
    ("values", "why", "is_letter"),
    [
        ({"channel": "letter", "address": ADDRESS}, Why.PREFERS, True),
        ({"channel": "email", "email": "", "address": ADDRESS}, Why.NO_CHANNEL, True),
        ({"channel": "letter", "address": " "}, Why.PREFERS, False),
        ({"channel": "email", "email": "", "address": ""}, Why.NO_CHANNEL, False),
        ({"channel": "phone", "address": ADDRESS}, Why.PREFERS, False),
        ({"channel": "email", "email_bounced_at": NOW, "address": ADDRESS}, Why.BOUNCED, False),
    ],
)
def test_for_whom(on_paper: Cast, planned: Planned, values: dict[str, object], why: Why, is_letter: bool) -> None:
    change(on_paper.patient, **values)
    planned()
    sweep(now=NOW)
    call = Call.objects.get()
    assert (call.why, call.post_by is not None) == (why, is_letter)


def test_what_is_about_harm_stays_a_call(on_paper: Cast, planned: Planned) -> None:
    planned(CHECK)
    sweep(now=NOW)
    assert Call.objects.get().post_by is None
    with pytest.raises(ValueError, match="too slow"):
        replace(kinds.get(CHECK), letter_by=lambda _patient, message: message.due_at)


def test_settled_meanwhile_it_stays_as_it_was(on_paper: Cast, waiting: Call) -> None:
    batch, user = made(on_paper), on_paper.desk
    Call.objects.update(settled_at=NOW, settled_by="Cleo Haddad", outcome=Outcome.REACHED)
    assert post_batch(batch=batch, user=user, actor=user.actor, now=later(hours=1)) == 0
    waiting.refresh_from_db()
    assert (waiting.outcome, waiting.settled_by) == (Outcome.REACHED, "Cleo Haddad")


TAKE_OUT = "Not to be posted any more."


def test_what_ended_since_it_was_printed_is_taken_out_of_the_pile(
    on_paper: Cast, waiting: Call, planned: Planned
) -> None:
    """A visit that moved after the printing would else be announced by post, with nobody to notice."""
    other = another(on_paper, 1)
    change(other, channel="letter", address=ADDRESS)
    planned(patient=other, subject=("patient", other.pk))
    sweep(now=NOW)
    made(on_paper)
    client = sign_in(on_paper.desk)
    assert TAKE_OUT not in client.get(PAGE).content.decode()
    Call.objects.filter(pk=waiting.pk).update(settled_at=NOW, settled_by="Cleo Haddad", outcome=Outcome.OVER)
    page = client.get(PAGE).content.decode()
    assert ("1 letter, ready to print" in page, TAKE_OUT in page) == (True, True)
    Call.objects.update(settled_at=NOW, settled_by="Cleo Haddad", outcome=Outcome.OVER)
    assert "If they are printed already, shred them." in client.get(PAGE).content.decode()


def test_the_database_lets_a_batch_end_once(on_paper: Cast, waiting: Call) -> None:
    made(on_paper)
    for values in ({"posted_at": NOW}, {"posted_at": NOW, "posted_by": "Dana", "put_back_at": NOW}):
        with pytest.raises(IntegrityError), transaction.atomic():
            LetterBatch.objects.update(**values)


def test_every_kind_that_may_go_by_post_has_words_for_it() -> None:
    """And none of them a link."""
    by_post = [kind for kind in kinds.registered().values() if kind.letter_by is not None]
    assert len(by_post) >= 10
    for kind in by_post:
        words = (Path(settings.BASE_DIR) / "templates" / kind.wording / "letter.txt").read_text(encoding="utf-8")
        assert "link_url" not in words


def test_other_method(cast: Cast) -> None:
    assert Client().get(PAGE).status_code == 302
    assert sign_in(cast.desk).post(PAGE).status_code == 405
