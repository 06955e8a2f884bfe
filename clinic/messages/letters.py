"""What a message says, apart from how it travels.

A wording is a folder of plain templates: `subject.txt`, `text.txt` and `sms.txt`. The HTML part is made
from the same text, so the two can never say different things.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from django.template.loader import render_to_string

SMS_LIMIT = 160


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """An iCalendar part (RFC 5546): REQUEST puts the time into the patient's calendar, CANCEL takes it out."""

    method: Literal["REQUEST", "CANCEL"]
    ics: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    filename: str
    content: bytes
    mimetype: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """Subject and sms hold no clinical word (clinic.messages.words); an empty sms is never sent as a text."""

    subject: str
    text: str
    sms: str = ""
    # Only where the HTML part must differ from what is made of the text.
    html: str = ""
    calendar: Calendar | None = None
    attachments: tuple[Attachment, ...] = ()


def write(
    wording: str,
    context: Mapping[str, object],
    *,
    calendar: Calendar | None = None,
    attachments: tuple[Attachment, ...] = (),
) -> Letter:
    """Render the wording's folder in the language that is active now."""
    return Letter(
        subject=_one_line(render_to_string(f"{wording}/subject.txt", dict(context))),
        text=render_to_string(f"{wording}/text.txt", dict(context)).strip() + "\n",
        sms=_one_line(render_to_string(f"{wording}/sms.txt", dict(context))),
        calendar=calendar,
        attachments=attachments,
    )


def _one_line(text: str) -> str:
    return " ".join(text.split())
