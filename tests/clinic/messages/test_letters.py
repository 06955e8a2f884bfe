"""How a letter looks on each channel: calendar part, foot, one-click end, short text."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from apprise import Apprise
from apprise.result import AppriseResult, AppriseResultStatus
from django.core import mail
from django.core.mail import EmailMessage, EmailMultiAlternatives
from django.test import Client
from icalendar import Calendar as Ics
from pytest_django import Settings

from clinic.messages import kinds
from clinic.messages.actions.asking import end_messages
from clinic.messages.letters import Calendar, Letter, as_mail, write
from clinic.messages.models import DueMessage, PrivateLink, State
from clinic.messages.sweep import sweep
from clinic.patients.actions import allowed_purposes
from clinic.patients.models import Patient, Purpose
from tests.cast import NOW, Cast
from tests.clinic.messages.writing import CHECK, REMINDER, Planned, Wishes
from tests.clinic.patients.twice import join, second_record
from tests.support import nothing_written

ICS = b"""BEGIN:VCALENDAR\r
VERSION:2.0\r
PRODID:-//Test//EN\r
METHOD:REQUEST\r
BEGIN:VEVENT\r
UID:1@example.org\r
DTSTAMP:20260303T090000Z\r
DTSTART:20260310T090000Z\r
SUMMARY:Fernbrook\r
END:VEVENT\r
END:VCALENDAR\r
"""


@pytest.fixture
def recall(wishes: Wishes, monkeypatch: pytest.MonkeyPatch) -> str:
    """A kind that one click may end."""
    kind = replace(kinds.get(REMINDER), code="test_recall", purpose=Purpose.RECALL)
    monkeypatch.setitem(kinds._kinds, kind.code, kind)
    return kind.code


def compose_with(monkeypatch: pytest.MonkeyPatch, letter: Letter) -> None:
    kind = replace(kinds.get(REMINDER), compose=lambda _subject, _message, _url: letter)
    monkeypatch.setitem(kinds._kinds, REMINDER, kind)


def test_the_calendar_part_is_an_invitation(planned: Planned, monkeypatch: pytest.MonkeyPatch) -> None:
    calendar = Calendar(method="REQUEST", ics=ICS)
    compose_with(monkeypatch, Letter(subject="Tuesday", text="Hello\n", calendar=calendar))
    planned()
    sweep(now=NOW)
    parts = {part.get_content_type(): part for part in mail.outbox[0].message().walk()}
    assert list(parts) == ["multipart/alternative", "text/plain", "text/html", "text/calendar"]
    part = parts["text/calendar"]
    assert part.get_param("method") == "REQUEST"
    payload = part.get_payload(decode=True)
    assert isinstance(payload, bytes)
    [event] = Ics.from_ical(payload).walk("VEVENT")
    assert event.decoded("DTSTART") == datetime(2026, 3, 10, 9, 0, tzinfo=UTC)


def html_of(sent: EmailMessage) -> str:
    assert isinstance(sent, EmailMultiAlternatives)
    [html] = [str(content) for content, kind in sent.alternatives if kind == "text/html"]
    return html


def test_text_and_html_say_the_same(planned: Planned) -> None:
    planned(CHECK)
    sweep(now=NOW)
    [sent] = mail.outbox
    html = html_of(sent)
    link = next(line for line in str(sent.body).splitlines() if line.startswith("http"))
    assert f'<a href="{link}"' in html
    for words in (str(sent.body), html):
        assert "Hello Amara Nwosu," in words
        assert "Telephone: +44 20 7946 0100" in words
    assert sent.reply_to == ["fernbrook@example.org"]


def test_a_name_with_markup_stays_text(planned: Planned, cast: Cast) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(preferred_name="<b>Amara</b> & co")
    planned()
    sweep(now=NOW)
    [sent] = mail.outbox
    html = html_of(sent)
    assert "<b>Amara</b> & co" in str(sent.body)
    assert "&lt;b&gt;Amara&lt;/b&gt; &amp; co" in html


def test_one_click_ends_what_it_may_end(planned: Planned, recall: str, cast: Cast) -> None:
    planned(recall)
    sweep(now=NOW)
    headers = mail.outbox[0].extra_headers
    assert headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    path = headers["List-Unsubscribe"].strip("<>").removeprefix("http://localhost")
    # The real clock is far from the cast's: the link is made to be open whenever this test runs.
    PrivateLink.objects.update(closes_at=datetime(2126, 1, 1, tzinfo=UTC))
    provider = Client(enforce_csrf_checks=True)
    with nothing_written():
        assert provider.get(path).status_code == 200
    assert provider.post(path, {"List-Unsubscribe": "One-Click"}).status_code == 200
    allowed = allowed_purposes(cast.patient)
    assert (allowed[Purpose.RECALL], allowed[Purpose.APPOINTMENT], allowed[Purpose.SAFETY]) == (False, True, True)
    with nothing_written():
        assert provider.post(path).status_code == 410


def test_one_click_on_a_page_from_before_they_were_joined(planned: Planned, recall: str, cast: Cast) -> None:
    """The record that is kept is asked what holds: what waits for it is called off as well."""
    planned(recall)
    sweep(now=NOW)
    link = PrivateLink.objects.select_related("patient", "site").get(purpose="end_messages")
    kept = join(cast, second_record(cast), cast.patient)
    waits = planned(recall, version=2, due_at=NOW + timedelta(days=3))
    end_messages(link=link, now=NOW)
    waits.refresh_from_db()
    assert (allowed_purposes(kept)[Purpose.RECALL], waits.state) == (False, State.CANCELLED)


def test_appointments_and_safety_carry_no_one_click_end(planned: Planned) -> None:
    planned()
    planned(CHECK)
    sweep(now=NOW)
    assert all("List-Unsubscribe" not in sent.extra_headers for sent in mail.outbox)


def test_an_end_link_opens_no_page(planned: Planned, recall: str) -> None:
    planned(recall)
    sweep(now=NOW)
    token = mail.outbox[0].extra_headers["List-Unsubscribe"].rstrip("/>").rpartition("/")[2]
    with nothing_written():
        assert Client().post(f"/p/l/{token}/").status_code == 410


@pytest.fixture
def texting(cast: Cast, settings: Settings) -> None:
    """Texts are on, and the patient wants them."""
    settings.SMS_URL = "json://localhost/{to}"
    Patient.objects.filter(pk=cast.patient.pk).update(channel="text", phone="+447700900123")


@pytest.mark.usefixtures("texting")
@pytest.mark.parametrize(
    ("status", "state"),
    [
        (AppriseResultStatus.SUCCESS, State.HANDED_OVER),
        (AppriseResultStatus.FAILURE, State.FAILED),
        (AppriseResultStatus.TIMEOUT, State.DUE),
    ],
)
def test_what_the_text_gateway_answers(
    planned: Planned, monkeypatch: pytest.MonkeyPatch, status: AppriseResultStatus, state: State
) -> None:
    said: list[str] = []

    def notify(_self: Apprise, *, body: str, **_more: Any) -> AppriseResult:
        said.append(body)
        return AppriseResult(status=status)

    monkeypatch.setattr(Apprise, "notify", notify)
    message = planned()
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, said) == (state, ["Fernbrook: Tuesday 3 March."])
    # Doubt counts: a reminder whose gateway fell silent is sent once more and then left to a person.
    assert message.times_uncertain == (1 if status == AppriseResultStatus.TIMEOUT else 0)
    # A failed text goes on by e-mail, as a step of its own.
    assert DueMessage.objects.count() == (2 if status == AppriseResultStatus.FAILURE else 1)


@pytest.mark.usefixtures("texting")
@pytest.mark.parametrize(
    ("sms", "reason"),
    [
        ("", "it has no short text"),
        ("x" * 307, "the short text takes more than 2 parts"),
        ("ж" * 202, "the short text takes more than 3 parts"),
        ("Your whitening", "a clinical word stands in the short text"),
    ],
)
def test_an_unfit_short_text_is_not_sent(planned: Planned, wishes: Wishes, sms: str, reason: str) -> None:
    wishes.sms = sms
    message = planned()
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.reason) == (State.FAILED, reason)
    # It goes on by e-mail, where there is room for more words.
    sweep(now=NOW)
    assert [sent.to for sent in mail.outbox] == [["amara@example.org"]]


def test_a_wording_is_rendered_on_one_line_where_it_must(cast: Cast) -> None:
    letter = write("messages/wordings/code", {"code": "123456", "site": cast.fernbrook, "minutes": 10})
    assert letter.subject == "Your code for Fernbrook Dental Rooms"
    assert letter.sms == (
        "Fernbrook Dental Rooms: your code is 123456. It works for 10 minutes. We never ask for it on the telephone."
    )
    assert letter.text.startswith("Your code: 123456\n")


def test_a_mail_is_written_without_the_short_text(cast: Cast) -> None:
    context = {"code": "123456", "site": cast.fernbrook, "minutes": 10}
    whole = write("messages/wordings/code", context)
    with as_mail():
        assert write("messages/wordings/code", context) == replace(whole, sms="")
    assert write("messages/wordings/code", context) == whole


@pytest.mark.parametrize(("channel", "has_sms"), [("email", False), ("text", True)])
def test_only_a_text_needs_the_short_text(
    planned: Planned, cast: Cast, settings: Settings, monkeypatch: pytest.MonkeyPatch, channel: str, has_sms: bool
) -> None:
    settings.SMS_URL = "json://localhost/{to}"
    Patient.objects.filter(pk=cast.patient.pk).update(channel=channel, phone="+447700900123")
    monkeypatch.setattr(Apprise, "notify", lambda _self, **_said: AppriseResult(status=AppriseResultStatus.SUCCESS))
    written: list[Letter] = []

    def compose(_subject: Patient, message: DueMessage, _url: str) -> Letter:
        written.append(write("messages/wordings/code", {"code": "1", "site": message.site, "minutes": 10}))
        return written[-1]

    monkeypatch.setitem(kinds._kinds, REMINDER, replace(kinds.get(REMINDER), compose=compose))
    planned()
    assert sweep(now=NOW).states == {State.HANDED_OVER: 1}
    assert [bool(letter.sms) for letter in written] == [has_sms]
