"""SMTP that can tell how far the dialogue went.

Before the server asked for the data (354) nothing can have been sent. From then on, until the server
answers, both sides may own the message: RFC 1047 calls that gap a main cause of duplicates.
"""

import smtplib
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.smtp import EmailBackend

from clinic.messages.channels import writing
from clinic.messages.channels.parcel import Fate, Handed, HandOverFailed

GO_AHEAD = 354
# RFC 5321, 4.2.3: the service closes, whatever it was asked.
CLOSING = 421


class _Dialogue:
    """Mixed into smtplib's classes: remembers whether the server is waiting for, or holding, a message."""

    content_begun = False

    def getreply(self) -> tuple[int, bytes]:
        code, text = super().getreply()  # type: ignore[misc]  # a mix-in: smtplib's class stands behind it
        # Any other answer settles what was begun, whether it says yes or no.
        self.content_begun = code == GO_AHEAD
        return code, text


class _Plain(_Dialogue, smtplib.SMTP):
    pass


class _Encrypted(_Dialogue, smtplib.SMTP_SSL):
    pass


class StagedEmailBackend(EmailBackend):
    """Django's backend, except that a failure says whether the message may have gone out."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._dialogue: _Plain | _Encrypted | None = None

    @property
    def connection_class(self) -> Any:
        return self._connect

    def open(self) -> bool | None:
        try:
            return super().open()
        except OSError as error:
            raise HandOverFailed(self._judge(error)) from error

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        reused = self.connection is not None
        try:
            return super().send_messages(email_messages)
        except OSError as error:
            # smtplib's own exceptions are OSErrors, and so are time-outs, refusals and TLS failures.
            handed = self._judge(error)
            self.close()
            if reused and handed.fate is Fate.LATER and _code(error) is None:
                # The server had closed a connection that lay idle since the mail before: that is no failure.
                return self.send_messages(email_messages)
            raise HandOverFailed(handed) from error

    def _send(self, email_message: EmailMessage) -> bool:
        encoding = email_message.encoding or settings.DEFAULT_CHARSET
        recipients = [writing.recipient(address, encoding) for address in email_message.recipients()]
        if self.connection is None or not recipients:
            return False
        sender, mail = writing.sender(email_message.from_email, encoding), writing.as_bytes(email_message)
        try:
            self.connection.sendmail(sender, recipients, mail)
        except smtplib.SMTPException:
            if not self.fail_silently:
                raise
            return False
        return True

    def close(self) -> None:
        """A farewell that goes wrong says nothing about the message before it."""
        connection = self.connection
        try:
            super().close()
        except OSError:
            if connection is not None:
                connection.close()

    def _connect(self, host: str, port: int, **options: Any) -> "_Plain | _Encrypted":
        self._dialogue = None
        self._dialogue = (_Encrypted if self.use_ssl else _Plain)(host, port, **options)
        return self._dialogue

    def _judge(self, error: OSError) -> Handed:
        code = _code(error)
        if self._dialogue is not None and self._dialogue.content_begun and code is None:
            return Handed(fate=Fate.UNCERTAIN, reason="the mail server fell silent after the message")
        if code is None:
            return Handed(fate=Fate.LATER, reason="the mail server could not be reached")
        if isinstance(error, smtplib.SMTPAuthenticationError):
            # A wrong password is the practice's to mend: the message itself may still go out in time.
            return Handed(fate=Fate.LATER, reason=f"the mail server refused our sign-in ({code})")
        if 500 <= code < 600:
            return Handed(fate=Fate.REFUSED, reason=f"the mail server refused it ({code})", is_of_this_mail=True)
        about_it = isinstance(error, smtplib.SMTPRecipientsRefused | smtplib.SMTPDataError) and code != CLOSING
        reason = f"the mail server asked to come back later ({code})"
        return Handed(fate=Fate.LATER, reason=reason, is_of_this_mail=about_it)


def _code(error: OSError) -> int | None:
    """The server's own answer, when there was one. A refused recipient hides it in a dictionary."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        codes = [code for code, _text in error.recipients.values()]
        return max(codes, default=None)
    if isinstance(error, smtplib.SMTPResponseException) and error.smtp_code > 0:
        return error.smtp_code
    return None
