"""Real dialogues with a real SMTP server: what each way of failing means for the message."""

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session
from pytest_django import Settings

from clinic.messages.channels.smtp import StagedEmailBackend
from clinic.messages.claims import claim, expire
from clinic.messages.models import Call, DueMessage, Ended, PrivateLink, State
from clinic.messages.sweep import sweep
from clinic.trail.clock import real_now
from tests.cast import NOW
from tests.clinic.messages.writing import CHECK, Planned
from tests.mailserver import free_port


@dataclass
class Script:
    """How the server behaves. An empty answer means: hang up instead of answering."""

    rcpt: str = "250 OK"
    data: str = "250 Taken"
    data_delay_seconds: float = 0
    mails: list[EmailMessage] = field(default_factory=list)
    connections: set[int] = field(default_factory=set)

    async def handle_RCPT(  # noqa: N802  (the library's name)
        self, server: SMTP, session: Session, envelope: Envelope, address: str, _options: list[str]
    ) -> str:
        if self.rcpt.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.rcpt

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        assert isinstance(envelope.content, bytes)
        self.connections.add(id(session))
        if self.data.startswith("250") or not self.data:
            self.mails.append(message_from_bytes(envelope.content, policy=policy.default))
        await asyncio.sleep(self.data_delay_seconds)
        if not self.data:
            assert isinstance(server.transport, asyncio.WriteTransport)
            server.transport.abort()
        return self.data or "250 never heard"


@contextmanager
def serving(script: Script, settings: Settings) -> Iterator[None]:
    controller = Controller(script, hostname="127.0.0.1", port=free_port())
    controller.start()
    settings.EMAIL_BACKEND = "clinic.messages.channels.smtp.StagedEmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", controller.port, 1
    try:
        yield
    finally:
        controller.stop()


@pytest.fixture
def script(settings: Settings) -> Iterator[Script]:
    script = Script()
    with serving(script, settings):
        yield script


def test_accepted(planned: Planned, script: Script) -> None:
    message = planned()
    sweep(now=NOW)
    message.refresh_from_db()
    [mail] = script.mails
    assert message.state == State.HANDED_OVER
    assert mail["Message-ID"] == message.message_id
    assert mail["Auto-Submitted"] == "auto-generated"
    assert [part.get_content_type() for part in mail.walk()] == ["multipart/alternative", "text/plain", "text/html"]


def test_refused_for_good_falls_back_to_a_call(planned: Planned, script: Script) -> None:
    script.rcpt = "550 5.1.1 No such person"
    message = planned(CHECK)
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.reason) == (State.FAILED, "the mail server refused it (550)")
    # Texts are off and the number is a landline: there is no other channel.
    assert Call.objects.get().message == message
    assert PrivateLink.objects.get().ended_because == Ended.NOT_SENT


def test_refused_for_good_goes_by_text_where_texts_are_on(planned: Planned, script: Script, settings: Settings) -> None:
    settings.SMS_URL = "nothing-of-the-kind://"
    script.rcpt = "550 5.1.1 No such person"
    message = planned()
    message.patient.phone = "+447700900123"
    message.patient.save()
    sweep(now=NOW)
    first, second = DueMessage.objects.order_by("pk")
    assert (first.state, second.state, second.step) == (State.FAILED, State.DUE, 100)
    sweep(now=NOW)
    second.refresh_from_db()
    # The address is no gateway at all, which is the practice's to mend: held back, not lost.
    assert (second.state, second.reason) == (State.DUE, "the text gateway is not set up rightly")


@pytest.mark.parametrize(("rcpt", "data"), [("451 4.3.0 Busy", "250 Taken"), ("250 OK", "452 4.2.2 Full")])
def test_come_back_later_is_tried_again_after_a_pause(planned: Planned, script: Script, rcpt: str, data: str) -> None:
    script.rcpt, script.data = rcpt, data
    message = planned()
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, script.mails) == (State.DUE, [])
    assert message.lease_until is not None
    assert timedelta(seconds=50) < message.lease_until - real_now() <= timedelta(minutes=1)
    assert sweep(now=NOW).claimed == 0
    script.rcpt, script.data = "250 OK", "250 Taken"
    DueMessage.objects.update(lease_until=real_now())
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.attempt, len(script.mails)) == (State.HANDED_OVER, 2, 1)


def test_nobody_listens(planned: Planned, script: Script, settings: Settings) -> None:
    settings.EMAIL_PORT = free_port()
    message = planned()
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.reason) == (State.DUE, "the mail server could not be reached")


def pauses(message: DueMessage, *, times: int) -> list[int]:
    """In minutes: how long each of so many failures holds it back."""
    found = []
    for _each in range(times):
        began_at = real_now()
        DueMessage.objects.update(lease_until=None)
        sweep(now=NOW)
        message.refresh_from_db()
        assert message.lease_until is not None
        found.append(round((message.lease_until - began_at) / timedelta(minutes=1)))
    return found


def test_only_a_no_to_this_very_mail_makes_the_pause_longer(
    planned: Planned, script: Script, settings: Settings
) -> None:
    message, port = planned(), settings.EMAIL_PORT
    # A sweeper that died with it, a server that is away, one that closes: none of them is about this mail.
    claim(now=NOW, real_now=real_now(), limit=1)
    DueMessage.objects.update(lease_until=real_now() - timedelta(minutes=1))
    expire(now=NOW, real_now=real_now())
    settings.EMAIL_PORT = free_port()
    assert pauses(message, times=4) == [1, 1, 1, 1]
    settings.EMAIL_PORT, script.rcpt = port, "421 4.3.2 Closing"
    assert pauses(message, times=2) == [1, 1]
    script.rcpt = "451 4.7.1 Greylisted"
    assert pauses(message, times=3) == [1, 2, 4]
    script.rcpt, script.data = "250 OK", "452 4.2.2 Full"
    assert pauses(message, times=3) == [8, 16, 30]
    assert (message.state, message.times_refused) == (State.DUE, 6)
    # The end is when it would come too late.
    DueMessage.objects.update(lease_until=None)
    sweep(now=message.not_after)
    message.refresh_from_db()
    assert (message.state, script.mails) == (State.MISSED, [])


@pytest.mark.parametrize(("data", "delay"), [("", 0.0), ("250 Taken", 2.5)], ids=["hangs up", "too slow"])
def test_silence_after_the_data_is_uncertain(planned: Planned, script: Script, data: str, delay: float) -> None:
    script.data, script.data_delay_seconds = data, delay
    check, reminder = planned(CHECK), planned()
    sweep(now=NOW)
    check.refresh_from_db()
    reminder.refresh_from_db()
    assert (check.state, check.reason) == (State.UNCERTAIN, "the mail server fell silent after the message")
    # A reminder may go out once more; the link of the other one stays open, for it may have arrived.
    assert (reminder.state, reminder.times_uncertain) == (State.DUE, 1)
    assert PrivateLink.objects.get().ended_at is None
    sweep(now=NOW)
    reminder.refresh_from_db()
    assert (reminder.state, reminder.times_uncertain) == (State.UNCERTAIN, 2)
    assert sweep(now=NOW).claimed == 0
    assert len(script.mails) == 3


def test_a_copy_carries_the_same_message_id(planned: Planned, script: Script) -> None:
    script.data = ""
    planned()
    sweep(now=NOW)
    sweep(now=NOW)
    first, second = script.mails
    assert first["Message-ID"] == second["Message-ID"]


def test_one_connection_for_a_batch(planned: Planned, script: Script) -> None:
    for step in range(3):
        planned(CHECK, step=step)
    sweep(now=NOW)
    assert len(script.mails) == 3
    assert len(script.connections) == 1


def test_an_idle_connection_that_was_closed_is_opened_again(settings: Settings) -> None:
    from django.core.mail import EmailMessage as Mail  # noqa: PLC0415  (beside the standard library's of that name)

    script = Script()
    with serving(script, settings):
        connection = StagedEmailBackend()
        connection.open()
        assert connection.connection is not None
        connection.connection.close()
        connection.send_messages([Mail("Hello", "Text", "a@example.org", ["b@example.org"])])
    assert len(script.mails) == 1
