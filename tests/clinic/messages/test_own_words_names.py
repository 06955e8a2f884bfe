"""Own words and the names on the practice's signs: what Set-up keeps goes out, and what no longer fits keeps nothing
back. The link in them opens.
"""

import re
from typing import Any

import pytest
from apprise import Apprise
from apprise.result import AppriseResult, AppriseResultStatus
from django.core import mail
from django.core.mail import EmailMultiAlternatives
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from clinic.accounts.models import Practice, Site
from clinic.messages import kinds
from clinic.messages.actions.wording import Which, WordsNotKept, write_words
from clinic.messages.models import Call, DueMessage, State, Wording
from clinic.messages.sweep import sweep_until_settled
from clinic.messages.wordings import missing
from clinic.messages.wordings.current import read_once
from clinic.messages.wordings.saying import in_own_words, program_words
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, sign_in
from tests.clinic.diary.house import at, book, furnish
from tests.support import nothing_written

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]
MAIL, SMS = Which("visit_confirmed", "email", "en"), Which("visit_confirmed", "text", "en")
TEXT = "Hello {name},\n\nyou come on {date}. {to_do}\n{link}"
PROGRAMS = "Your appointment at Fernbrook"


@pytest.fixture
def diary(cast: Cast) -> Cast:
    furnish(cast)
    return cast


def write(cast: Cast, which: Which, text: str, *, subject: str = "", seen: int = 0) -> Wording:
    by: dict[str, Any] = {"at": cast.fernbrook, "user": cast.manager, "actor": cast.manager.actor, "now": NOW}
    return write_words(which=which, subject=subject, text=text, seen_number=seen, **by)


def sent(cast: Cast) -> EmailMultiAlternatives:
    mail.outbox.clear()
    book(cast, at(9))
    sweep_until_settled(now=NOW)
    assert DueMessage.objects.get(kind="visit_confirmed").state == State.HANDED_OVER
    assert not Call.objects.exists()
    [one] = mail.outbox
    assert isinstance(one, EmailMultiAlternatives)
    return one


def rename(name: str) -> None:
    Practice.objects.update(name=name)


@pytest.mark.parametrize("subject", ["FERNBROOK TOOTH STUDIO expects you", "fernbrook tooth studio: {practice}"])
def test_the_practices_name_in_other_capitals(diary: Cast, subject: str) -> None:
    rename("Fernbrook Tooth Studio")
    write(diary, MAIL, TEXT, subject=subject)
    assert sent(diary).subject == subject.replace("{practice}", "Fernbrook")
    assert missing.of_words(diary.fernbrook) == []


def test_the_name_of_another_site(diary: Cast) -> None:
    Site.objects.filter(pk=diary.alderton.pk).update(name="Alderton Teeth")
    write(diary, MAIL, TEXT, subject="Fernbrook and Alderton Teeth: your visit")
    assert sent(diary).subject == "Fernbrook and Alderton Teeth: your visit"


def test_a_practice_that_is_called_otherwise_by_now(diary: Cast, caplog: pytest.LogCaptureFixture) -> None:
    """The program's words go out, somebody is told, and Set-up says what to take out."""
    rename("Fernbrook Tooth Studio")
    write(diary, MAIL, TEXT, subject="Fernbrook Tooth Studio expects you")
    assert missing.of_words(diary.fernbrook) == []
    rename("Fernbrook House")
    assert sent(diary).subject == PROGRAMS
    assert "visit_confirmed email en 1 do not fit any more" in caplog.text
    [sentence] = missing.of_words(diary.fernbrook)
    assert "your words do not fit, so the program’s go out. This shows on a locked screen" in sentence
    assert "take out “Tooth”" in sentence
    manager = sign_in(diary.manager)
    assert "not used: they do not fit" in manager.get(reverse("setup_messages")).content.decode()
    page = manager.get(reverse("message_words", args=MAIL)).content.decode()
    assert "Your words do not fit, so the program’s go out." in page
    assert "take out “Tooth”" in page


def test_a_text_after_another_name(diary: Cast, settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.SMS_URL = "json://localhost/{to}"
    Patient.objects.filter(pk=diary.patient.pk).update(channel="text", phone="+447700900123")
    said: list[str] = []

    def notify(_self: Apprise, *, body: str, **_more: Any) -> AppriseResult:
        said.append(body)
        return AppriseResult(status=AppriseResultStatus.SUCCESS)

    monkeypatch.setattr(Apprise, "notify", notify)
    rename("Gum Lane Rooms")
    write(diary, SMS, "GUM LANE ROOMS, {practice}: {date} {link} {number}")
    rename("Fernbrook House")
    book(diary, at(9))
    sweep_until_settled(now=NOW)
    assert [one.partition(": ")[0] for one in said] == ["Fernbrook"]


def test_what_is_filled_in_may_say_too_much(diary: Cast, caplog: pytest.LogCaptureFixture) -> None:
    """Words that are plain by themselves, around a value that is empty: the program's words stay."""
    kind = kinds.get("visit_confirmed")
    write(diary, MAIL, TEXT, subject="Your te{practice}eth")
    write(diary, SMS, "Your te{practice}eth: {date} {link} {number}")
    letter, empty = program_words(kind), {"name": "", "practice": "", "number": "", "date": "", "to_do": "", "link": ""}
    assert in_own_words(letter, kind, empty) == letter
    assert caplog.text.count("would name something clinical this time") == 2


def test_names_are_read_once_for_a_batch(diary: Cast, django_assert_max_num_queries: Any) -> None:
    write(diary, MAIL, TEXT, subject="See you")
    letter, kind = program_words(kinds.get("visit_confirmed")), kinds.get("visit_confirmed")
    values = {"name": "", "practice": "", "number": "", "date": "", "to_do": "", "link": ""}
    # The words, and the names.
    with django_assert_max_num_queries(2), read_once():
        for _time in range(3):
            assert in_own_words(letter, kind, values).subject == "See you"


@pytest.mark.parametrize("glued", ["{link}and call us", "({name}){link}{date}", "See:{link}", "{link}.", "“{link}”"])
def test_a_link_glued_to_something_is_not_kept(diary: Cast, glued: str) -> None:
    with nothing_written():
        with pytest.raises(WordsNotKept, match=r"{link} must stand by itself"):
            write(diary, MAIL, f"{{date}} {{to_do}}\n{glued}", subject="Your visit")
        with pytest.raises(WordsNotKept, match=r"{link} must stand by itself"):
            write(diary, SMS, "{practice}: {date}, {link}{number}")


@pytest.mark.parametrize("around", ["See: {link} and call us", "({name}) {link}\n{date}", "\t{link}"])
def test_a_link_that_stands_by_itself_opens(diary: Cast, around: str) -> None:
    write(diary, MAIL, f"{{date}} {{to_do}}\n{around}", subject="Your visit")
    html = next(str(content) for content, kind in sent(diary).alternatives if kind == "text/html")
    found = re.search(r'href="https?://[^/]+(/p/[^"]+)"', html)
    assert found is not None
    assert Client().get(found[1]).status_code == 200


@pytest.mark.parametrize("subject", ["\u200b\u200e", "Your white\u00adning", "Your te\u200beth", "See\u200b you"])
def test_what_nobody_sees_is_not_kept(diary: Cast, subject: str) -> None:
    with nothing_written(), pytest.raises(WordsNotKept):
        write(diary, MAIL, TEXT, subject=subject)


def test_a_name_or_a_text_is_never_html(diary: Cast) -> None:
    Patient.objects.filter(pk=diary.patient.pk).update(preferred_name="{link}<b>x</b>")
    write(diary, MAIL, f"{TEXT}\n<script>alert(1)</script>", subject="Your visit at {practice}")
    one = sent(diary)
    html = next(str(content) for content, kind in one.alternatives if kind == "text/html")
    assert "Hello {link}<b>x</b>" in str(one.body)
    assert "<script>" not in html
    assert "<b>x" not in html
