"""The practice's own words of the diary's messages, as they arrive: by mail, as a text, on paper, in two languages."""

from datetime import date, datetime, timedelta
from io import BytesIO
from typing import Any

import pytest
from apprise import Apprise
from apprise.result import AppriseResult, AppriseResultStatus
from django.core import mail
from django.core.mail import EmailMultiAlternatives
from pypdf import PdfReader
from pytest_django import Settings

from clinic.diary import actions
from clinic.messages.actions.posting import make_batch
from clinic.messages.actions.wording import Which, back_to_program, write_words
from clinic.messages.models import DueMessage, State, Wording
from clinic.messages.posting import draw
from clinic.messages.sweep import sweep
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of
from tests.catalogues import Catalogues
from tests.clinic.diary.house import at, book, pencil

IN_THREE_WEEKS = date(2026, 3, 25)
SUBJECT = "See you at {practice}"
TEXT = "Dear {name},\n\nwe look forward to {date}.\n\n{visit}\n\n{to_do}\n{link}\n\nYours, <the & team>"
SMS = "{practice}: see you {date}. {link} or {number}"
GERMAN = "Guten Tag {name},\n\nbis {date}.\n\n{to_do} {link}"


def write(cast: Cast, which: Which, text: str, *, subject: str = "", seen: int = 0) -> Wording:
    by: dict[str, Any] = {"at": cast.fernbrook, "user": cast.manager, "actor": cast.manager.actor, "now": NOW}
    return write_words(which=which, subject=subject, text=text, seen_number=seen, **by)


@pytest.fixture
def worded(diary: Cast) -> Cast:
    write(diary, Which("visit_confirmed", "email", "en"), TEXT, subject=SUBJECT)
    write(diary, Which("visit_confirmed", "text", "en"), SMS)
    return diary


@pytest.fixture
def texted(diary: Cast, settings: Settings, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Texts are on and the patient wants them; what the gateway was given."""
    settings.SMS_URL = "json://localhost/{to}"
    Patient.objects.filter(pk=diary.patient.pk).update(channel="text", phone="+447700900123")
    said: list[str] = []

    def notify(_self: Apprise, *, body: str, **_more: Any) -> AppriseResult:
        said.append(body)
        return AppriseResult(status=AppriseResultStatus.SUCCESS)

    monkeypatch.setattr(Apprise, "notify", notify)
    return said


def sent(*, now: datetime = NOW) -> EmailMultiAlternatives:
    mail.outbox.clear()
    sweep(now=now)
    [one] = mail.outbox
    assert isinstance(one, EmailMultiAlternatives)
    return one


def test_a_mail(worded: Cast) -> None:
    book(worded, at(9))
    one = sent()
    body = str(one.body)
    assert one.subject == "See you at Fernbrook"
    assert body.startswith("Dear Amara Nwosu,\n\nwe look forward to Wed 4 Mar 2026, 09:00.\n\nWhat it is: ")
    assert "Everything about this visit stands on your page:\nhttp" in body
    assert "Yours, <the & team>\n" in body
    # The foot, the calendar's entry and the HTML part stay the program's work.
    assert "Telephone: +44 20 7946 0100" in body
    kinds = {kind: str(content) for content, kind in one.alternatives}
    assert "METHOD:REQUEST" in next(content for kind, content in kinds.items() if kind.startswith("text/calendar"))
    assert "Yours, &lt;the &amp; team&gt;" in kinds["text/html"]
    assert "<title>See you at Fernbrook</title>" in kinds["text/html"]


def test_a_text(worded: Cast, texted: list[str]) -> None:
    book(worded, at(9))
    sweep(now=NOW)
    [said] = texted
    assert said.startswith("Fernbrook: see you Wed 4 Mar 2026, 09:00. http")
    assert said.endswith("/ or +44 20 7946 0100")


def test_a_letter_says_what_the_mail_says_without_a_link(worded: Cast) -> None:
    Patient.objects.filter(pk=worded.patient.pk).update(channel="letter", address="3 Mill Lane\nFernbrook")
    book(worded, at(9, day=IN_THREE_WEEKS))
    sweep(now=NOW)
    batch = make_batch(site=worded.fernbrook, user=worded.desk, actor=worded.desk.actor, now=NOW)
    assert batch is not None
    pdf = draw(batch=batch, user=worded.desk, actor=worded.desk.actor, now=NOW).drawing.pdf
    page = " ".join(PdfReader(BytesIO(pdf)).pages[-1].extract_text().split())
    for words in (
        "See you at Fernbrook",
        "Dear Amara Nwosu,",
        "we look forward to Wed 25 Mar 2026, 09:00.",
        "<the & team>",
    ):
        assert words in page
    assert "Please call us: +44 20 7946 0100" in page
    assert "http" not in page
    assert "{" not in page


def test_each_language_has_its_own(worded: Cast, catalogues: Catalogues) -> None:
    catalogues.install("de")
    write(worded, Which("visit_confirmed", "email", "de"), GERMAN, subject="Ihr Termin")
    Patient.objects.filter(pk=worded.patient.pk).update(language="de-AT")
    booking = book(worded, at(9))
    one = sent()
    assert one.subject == "Ihr Termin"
    assert str(one.body).startswith("Guten Tag Amara Nwosu,\n\nbis Mi")
    # Of a kind that is not worded in it, the program's words.
    actions.cancel(booking=booking, by="practice", reason="", actor=actor_of(worded.desk), now=NOW)
    assert sent().subject == "Your appointment at Fernbrook is cancelled"
    Patient.objects.filter(pk=worded.patient.pk).update(language="en")
    book(worded, at(11))
    assert sent().subject == "See you at Fernbrook"


def test_a_language_that_is_not_spoken_waits(worded: Cast) -> None:
    write(worded, Which("visit_confirmed", "email", "de"), GERMAN, subject="Ihr Termin")
    Patient.objects.filter(pk=worded.patient.pk).update(language="de")
    book(worded, at(9))
    assert sent().subject == "See you at Fernbrook"


def test_the_way_back(worded: Cast) -> None:
    which = Which("visit_confirmed", "email", "en")
    by: dict[str, Any] = {"at": worded.fernbrook, "user": worded.manager, "actor": worded.manager.actor, "now": NOW}
    back_to_program(which=which, seen_number=1, **by)
    book(worded, at(9))
    assert sent().subject == "Your appointment at Fernbrook"


def test_words_that_do_not_fit_any_more_keep_nothing_back(worded: Cast, caplog: pytest.LogCaptureFixture) -> None:
    """Kept under an earlier program: the program's words go out, and somebody is told."""
    for channel, text in (("email", "Hello {nobody} {link}"), ("text", "Hello {link}")):
        subject = "Hello" if channel == "email" else ""
        facts = {"kind": "visit_confirmed", "channel": channel, "language": "en", "subject": subject, "text": text}
        Wording.objects.create(**facts, number=2, written_at=NOW, written_by=worded.manager)
    book(worded, at(9))
    assert sent().subject == "Your appointment at Fernbrook"
    assert "visit_confirmed email en 2 do not fit any more" in caplog.text


def test_a_text_that_is_too_long_this_time(worded: Cast, texted: list[str], caplog: pytest.LogCaptureFixture) -> None:
    write(worded, Which("visit_confirmed", "text", "en"), SMS + "x" * 150, seen=1)
    worded.fernbrook.name = "Fernbrook on the Water, by the Mill and the Lane"
    worded.fernbrook.save()
    book(worded, at(9))
    sweep(now=NOW)
    [said] = texted
    assert "your appointment is on Wed 4 Mar 2026, 09:00" in said
    assert "too long this time" in caplog.text


def test_several_pencilled_times_are_a_list_in_the_programs_words(diary: Cast) -> None:
    which = Which("visit_pencilled", "email", "en")
    write(diary, which, "Kept: {date} until {until}.", subject="A time at {practice}")
    pencil(diary, at(9))
    one = sent()
    assert one.subject == "A time at Fernbrook"
    assert str(one.body).startswith("Kept: Wed 4 Mar 2026, 09:00 until Wed 4 Mar 2026, 09:00.\n")
    later = NOW + timedelta(minutes=5)
    for day in (date(2026, 3, 11), IN_THREE_WEEKS):
        pencil(diary, at(9, day=day), now=later)
    both = sent(now=later)
    assert both.subject == "Times held for you at Fernbrook"
    assert "- Wed 25 Mar 2026, 09:00" in str(both.body)


def test_a_batch_asks_once(worded: Cast, django_assert_max_num_queries: Any) -> None:
    for hour in (9, 11, 14):
        book(worded, at(hour))
    mail.outbox.clear()
    with django_assert_max_num_queries(10_000) as asked:
        sweep(now=NOW)
    assert [one.subject for one in mail.outbox] == ["See you at Fernbrook"] * 3
    assert sum("clinic_messages_wording" in query["sql"] for query in asked.captured_queries) == 1
    assert set(DueMessage.objects.filter(kind="visit_confirmed").values_list("state", flat=True)) == {State.HANDED_OVER}
