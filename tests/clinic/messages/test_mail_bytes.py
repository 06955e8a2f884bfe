"""What goes over the line is what the library itself would write: only the boundary is found another way."""

from email import message_from_bytes, policy

import pytest
from django.core.mail import EmailMultiAlternatives
from django.core.mail.message import sanitize_address

from clinic.messages.channels import writing

LONG = "https://fernbrook.example.org/p/l/" + "caO7O2pQMrq3WXeM" * 5


def a_mail(
    *, subject: str = "Your appointment", text: str = "Hello,\n\nSee you.\n", **more: str
) -> EmailMultiAlternatives:
    mail = EmailMultiAlternatives(
        subject=subject,
        body=text,
        from_email="Fernbrook Dental Rooms <casebook@localhost>",
        to=["amara@example.org"],
        reply_to=["fernbrook@example.org"],
        headers={"Message-ID": "<1@localhost>", "Auto-Submitted": "auto-generated", **more},
    )
    mail.attach_alternative(f"<p>{text}</p>", "text/html")
    return mail


def with_attachments() -> EmailMultiAlternatives:
    mail = a_mail()
    mail.attach_alternative("BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", "text/calendar; method=REQUEST")
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
        with_attachments(),
        EmailMultiAlternatives("Plain", "Only text", "a@example.org", ["Zoë Ébène <zoe@example.org>"]),
    ],
)
def test_the_same_bytes_as_the_library(mail: EmailMultiAlternatives) -> None:
    made = mail.message()
    ours = writing.as_bytes(made)
    assert ours == made.as_bytes(linesep="\r\n")  # type: ignore[call-arg]  # Django's takes it


def test_each_part_has_a_boundary_of_its_own() -> None:
    mails = [
        message_from_bytes(writing.as_bytes(with_attachments().message()), policy=policy.default) for _ in range(2)
    ]
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
