"""A letter as an e-mail: text, the same text as HTML, a calendar part where a time is involved."""

import hashlib
from email.utils import formataddr, parseaddr
from functools import lru_cache

from anymail.exceptions import AnymailError, AnymailRecipientsRefused
from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.core.mail.backends.base import BaseEmailBackend
from django.template.loader import render_to_string
from django.utils.translation import get_language, get_language_bidi

from clinic.accounts.models import Site
from clinic.messages.channels.marking import paragraphs
from clinic.messages.channels.parcel import Fate, Handed, HandOverFailed, Parcel
from clinic.messages.foot import foot
from clinic.messages.models import Held


def message_id_for(message: Held) -> str:
    """Stable from the unique key, so that a mailbox may fold two copies into one; says nothing about the subject."""
    key = f"{message.subject_kind} {message.subject_id} {message.kind} {message.version} {message.step}"
    digest = hashlib.sha256(f"{settings.SECRET_KEY} {key}".encode()).hexdigest()[:40]
    return f"<{digest}@{_domain(settings.DEFAULT_FROM_EMAIL)}>"


def hand_over(parcel: Parcel, connection: BaseEmailBackend) -> Handed:
    """Opens the connection where it is not open yet and leaves it open for the next one."""
    mail = build(parcel)
    try:
        connection.open()
        connection.send_messages([mail])
    except HandOverFailed as failure:
        return failure.handed
    except AnymailError as error:
        return _judge_provider(error)
    status = getattr(mail, "anymail_status", None)
    return Handed(fate=Fate.TAKEN, provider_id=str(getattr(status, "message_id", "") or "")[:120])


def build(parcel: Parcel) -> EmailMultiAlternatives:
    """In the language that is active now."""
    letter, site = parcel.letter, parcel.site
    mail = EmailMultiAlternatives(
        subject=letter.subject,
        body=letter.text + foot(site, end_url=parcel.end_url),
        from_email=sender(site),
        to=[parcel.recipient.email],
        reply_to=[site.email] if site.email else None,
        headers=_headers(parcel),
    )
    mail.attach_alternative(letter.html or _html(parcel), "text/html")
    if letter.calendar is not None:
        # Beside the other two and not as an attachment, so that mail programs offer "add to calendar".
        method = letter.calendar.method
        mail.attach_alternative(letter.calendar.ics.decode(), f"text/calendar; method={method}")
    for attachment in letter.attachments:
        mail.attach(attachment.filename, attachment.content, attachment.mimetype)
    return mail


def sender(site: Site) -> str:
    """The practice's name in front of the one address that our mail server may send for."""
    return _named(site.practice.name, settings.DEFAULT_FROM_EMAIL)


@lru_cache(maxsize=16)
def _named(name: str, own: str) -> str:
    return formataddr((name, parseaddr(own)[1]))


@lru_cache(maxsize=16)
def _domain(own: str) -> str:
    return parseaddr(own)[1].rpartition("@")[2]


def _html(parcel: Parcel) -> str:
    context = {
        "subject": parcel.letter.subject,
        "paragraphs": paragraphs(parcel.letter.text),
        "foot": foot(parcel.site, end_url=parcel.end_url, form="html"),
        "language": get_language(),
        "direction": "rtl" if get_language_bidi() else "ltr",
    }
    return render_to_string("messages/mail/letter.html", context)


def _headers(parcel: Parcel) -> dict[str, str]:
    headers = {"Message-ID": parcel.message_id, "Auto-Submitted": "auto-generated"}
    if parcel.end_url:
        headers["List-Unsubscribe"] = f"<{parcel.end_url}>"
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return headers


def _judge_provider(error: AnymailError) -> Handed:
    """A provider's HTTP interface: its own no is a no; anything else leaves it open."""
    if isinstance(error, AnymailRecipientsRefused):
        return Handed(fate=Fate.REFUSED, reason="the mail provider refused the address")
    code: int | None = error.status_code
    if code == 429:
        return Handed(fate=Fate.LATER, reason="the mail provider asked to come back later (429)")
    if code is not None and 400 <= code < 500:
        return Handed(fate=Fate.REFUSED, reason=f"the mail provider refused it ({code})")
    return Handed(fate=Fate.UNCERTAIN, reason="the mail provider gave no clear answer")
