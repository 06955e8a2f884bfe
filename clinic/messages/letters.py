"""What a message says, apart from how it travels.

A wording is a folder of plain templates: `subject.txt`, `text.txt` and `sms.txt`, and `letter.txt` where it may go by
post. The HTML part is made from the same text, so the two can never say different things.
"""

import re
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Literal

from django.template.loader import render_to_string

_ON_PAPER: ContextVar[bool] = ContextVar("on_paper", default=False)
_AS_MAIL: ContextVar[bool] = ContextVar("as_mail", default=False)
# What a sentence left behind that is not said this time.
_GAP = re.compile(r"\n{3,}")


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


def on_paper() -> AbstractContextManager[None]:
    """What is written within goes by post: its text has no link."""
    return _within(_ON_PAPER)


def is_on_paper() -> bool:
    return _ON_PAPER.get()


def as_mail() -> AbstractContextManager[None]:
    """What is written within goes by e-mail: nobody needs the short text."""
    return _within(_AS_MAIL)


@contextmanager
def _within(way: ContextVar[bool]) -> Iterator[None]:
    token = way.set(True)
    try:
        yield
    finally:
        way.reset(token)


def has_sms() -> bool:
    return not _ON_PAPER.get() and not _AS_MAIL.get()


def write(
    wording: str,
    context: Mapping[str, object],
    *,
    calendar: Calendar | None = None,
    attachments: tuple[Attachment, ...] = (),
) -> Letter:
    """Render the wording's folder in the language that is active now."""
    subject = one_line(render_to_string(f"{wording}/subject.txt", dict(context)))
    if is_on_paper():
        return Letter(subject=subject, text=tidy(render_to_string(f"{wording}/letter.txt", dict(context))))
    return Letter(
        subject=subject,
        text=tidy(render_to_string(f"{wording}/text.txt", dict(context))),
        sms=one_line(render_to_string(f"{wording}/sms.txt", dict(context))) if has_sms() else "",
        calendar=calendar,
        attachments=attachments,
    )


def one_line(text: str) -> str:
    return " ".join(text.split())


def tidy(text: str) -> str:
    """One empty line between two paragraphs, however many sentences between them had nothing to say."""
    lines = [line.rstrip() for line in text.split("\n")]
    return _GAP.sub("\n\n", "\n".join(lines)).strip() + "\n"
