"""The mail backend of the demo: nothing leaves the machine, every mail can be read on a page."""

from collections.abc import Sequence

from django.core.mail import EmailMessage, EmailMultiAlternatives
from django.core.mail.backends.base import BaseEmailBackend

from clinic.trail.clock import now
from whitening.demo.models import DemoMail


class DemoMailBackend(BaseEmailBackend):
    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        for mail in email_messages:
            keep(mail)
        return len(email_messages)


def keep(mail: EmailMessage) -> DemoMail:
    parts = _alternatives(mail)
    return DemoMail.objects.create(
        received_at=now(),
        to=", ".join(mail.recipients())[:254],
        sender=mail.from_email[:254],
        subject=mail.subject[:250],
        message_id=str(mail.extra_headers.get("Message-ID", ""))[:120],
        text=str(mail.body),
        html=parts.get("text/html", ""),
        calendar=parts.get("text/calendar", ""),
        attachments=[str(attachment[0]) for attachment in mail.attachments if isinstance(attachment, tuple)],
    )


def _alternatives(mail: EmailMessage) -> dict[str, str]:
    if not isinstance(mail, EmailMultiAlternatives):
        return {}
    # "text/calendar; method=REQUEST" is kept under its type alone.
    return {str(kind).partition(";")[0]: str(content) for content, kind in mail.alternatives}
