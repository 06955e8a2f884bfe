"""A real SMTP server on this machine that keeps what it is given, for tests with real processes."""

import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@dataclass
class Mailbox:
    """What arrived, in order. `refuse` makes the server answer with that line instead of taking the mail."""

    mails: list[EmailMessage] = field(default_factory=list)
    refuse: str = ""
    _arrival: threading.Condition = field(default_factory=threading.Condition)

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802  (its name)
        if self.refuse:
            return self.refuse
        assert isinstance(envelope.content, bytes)  # decode_data is off, so it is never text
        mail = message_from_bytes(envelope.content, policy=policy.default)
        with self._arrival:
            self.mails.append(mail)
            self._arrival.notify_all()
        return "250 Taken"

    def to(self, address: str) -> list[EmailMessage]:
        return [mail for mail in self.mails if address in str(mail["To"])]

    def wait_for(self, wanted: Callable[[EmailMessage], bool], *, seconds: float = 30) -> EmailMessage:
        """The first mail that is wanted, as soon as it has arrived."""
        deadline = time.monotonic() + seconds
        with self._arrival:
            while True:
                for mail in self.mails:
                    if wanted(mail):
                        return mail
                if not self._arrival.wait(deadline - time.monotonic()):
                    subjects = [str(mail["Subject"]) for mail in self.mails]
                    raise AssertionError(f"No such mail within {seconds:.0f} s; arrived: {subjects}")


@dataclass
class MailServer:
    mailbox: Mailbox
    port: int
    _controller: Controller

    @property
    def url(self) -> str:
        return f"smtp://127.0.0.1:{self.port}"

    def stop(self) -> None:
        self._controller.stop()


def start() -> MailServer:
    mailbox = Mailbox()
    port = free_port()
    controller = Controller(mailbox, hostname="127.0.0.1", port=port)
    controller.start()
    return MailServer(mailbox=mailbox, port=port, _controller=controller)
