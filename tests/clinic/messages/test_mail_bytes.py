"""What goes over the line is what the library itself would write: only the boundary is found another way."""

from collections.abc import Sequence
from email import message_from_bytes, policy

import pytest
import time_machine
from django.core.mail import BadHeaderError, EmailMessage, EmailMultiAlternatives
from django.core.mail.message import sanitize_address

from clinic.messages.channels import writing

LONG = "https://fernbrook.example.org/p/l/" + "caO7O2pQMrq3WXeM" * 5


def a_mail(
    *,
    subject: str = "Your appointment",
    text: str = "Hello,\n\nSee you.\n",
    practice: str = "Fernbrook Dental Rooms",
    to: Sequence[str] = ("amara@example.org",),
    **more: str,
) -> EmailMultiAlternatives:
    mail = EmailMultiAlternatives(
        subject=subject,
        body=text,
        from_email=f"{practice} <casebook@localhost>",
        to=list(to),
        reply_to=["fernbrook@example.org"],
        headers={"Message-ID": "<1@localhost>", "Auto-Submitted": "auto-generated", **more},
    )
    mail.attach_alternative(f"<p>{text}</p>", "text/html")
    return mail


def with_calendar() -> EmailMultiAlternatives:
    mail = a_mail(text="Löjou\r\nhas a visit\rsoon\n")
    mail.attach_alternative("BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", "text/calendar; method=REQUEST")
    return mail


def with_attachments() -> EmailMultiAlternatives:
    mail = with_calendar()
    mail.attach("sheet.pdf", b"%PDF-1.7 \x00\xff", "application/pdf")
    mail.attach("für Sie.txt", "Grüße", "text/plain")
    return mail


@pytest.mark.parametrize(
    "mail",
    [
        a_mail(),
        a_mail(subject="Ihr Termin für übermorgen"),
        a_mail(subject="One word after another " * 9),
        a_mail(subject="x" * 63),
        a_mail(subject="x" * 69),
        a_mail(subject="x" * 70),
        a_mail(subject=" two  spaces, a comma; "),
        a_mail(text="Löjou Huwiez\n" + "A line that is far too long for a mail. " * 40),
        a_mail(text="From here\n.\n..\nto there"),
        a_mail(text=""),
        a_mail(**{"List-Unsubscribe": f"<{LONG}>", "List-Unsubscribe-Post": "List-Unsubscribe=One-Click"}),
        a_mail(practice="Zahnärzte am Fluß"),
        a_mail(practice="A practice, with a comma, and a name that is far too long for one line of a header"),
        a_mail(to=["amara@example.org", "Zoë Ébène <zoe@example.org>"]),
        a_mail(Date="Tue, 03 Mar 2026 09:00:00 -0000"),
        a_mail(**{"reply-to": "other@example.org"}),
        a_mail(**{"X-Note": "für Sie"}),
        with_calendar(),
        with_attachments(),
        EmailMultiAlternatives("Plain", "Only text", "a@example.org", ["Zoë Ébène <zoe@example.org>"]),
        EmailMessage("Plain", "Only text", "a@example.org", ["zoe@example.org"], headers={"Message-ID": "<1@x>"}),
    ],
)
@time_machine.travel("2026-03-03T09:00:00Z", tick=False)
def test_the_same_bytes_as_the_library(mail: EmailMessage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.core.mail.message.make_msgid", lambda domain: f"<2@{domain}>")
    ours, made = writing.as_bytes(mail), mail.message()
    # The random boundaries in their order, from the outer one on.
    boundaries = [part.get_boundary() for part in message_from_bytes(ours).walk() if part.is_multipart()]
    for part, boundary in zip((one for one in made.walk() if one.is_multipart()), boundaries, strict=True):
        part.set_boundary(str(boundary))
    assert ours == made.as_bytes(linesep="\r\n")  # type: ignore[call-arg]  # Django's takes it


@pytest.mark.parametrize(
    "mail", [a_mail(subject="One\nBcc: b@example.org"), a_mail(practice="A\r\nBcc: b@example.org")]
)
def test_no_second_header_gets_into_one(mail: EmailMultiAlternatives) -> None:
    with pytest.raises(BadHeaderError):
        writing.as_bytes(mail)


def test_each_part_has_a_boundary_of_its_own() -> None:
    mails = [message_from_bytes(writing.as_bytes(with_attachments()), policy=policy.default) for _ in range(2)]
    found = [part.get_boundary() for mail in mails for part in mail.walk() if part.is_multipart()]
    assert None not in found
    assert len(set(found)) == len(found) == 4
    assert [part.get_content_type() for part in mails[0].walk()] == [
        "multipart/mixed",
        "multipart/alternative",
        "text/plain",
        "text/html",
        "text/calendar",
        "application/pdf",
        "text/plain",
    ]


@pytest.mark.parametrize(
    "address",
    [
        "amara@example.org",
        "Ines.Costa+visits@mail.example.org",
        "jörg@example.org",
        "amara@bücher.example.org",
        '"two words"@example.org',
        "Amara Osei <amara@example.org>",
        "o'neil@example.org",
        "amara@example.org\n",
    ],
)
def test_the_server_is_told_the_same_address(address: str) -> None:
    assert writing.recipient(address, "utf-8") == sanitize_address(address, "utf-8")


def test_no_second_command_gets_into_an_address() -> None:
    with pytest.raises(ValueError, match="Invalid address"):
        writing.recipient("a@example.org\r\nRCPT TO:<b@example.org>", "utf-8")
