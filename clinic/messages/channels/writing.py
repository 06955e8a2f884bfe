"""A mail as the bytes that go over the line, the same as the library would write, with less searching.

Where a mail is text beside the same text as HTML, and perhaps a calendar, its parts are written out at once: what
stands above each is the library's own, made once. A header that fits on its line is not looked through for places to
fold it, and nothing is read again to find a boundary that does not stand in it: a random one of 96 bits never does.
"""

import re
import secrets
from collections.abc import Iterator
from email.generator import BytesGenerator
from email.message import Message
from email.policy import Compat32
from email.utils import formatdate
from functools import lru_cache
from io import BytesIO
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage, EmailMultiAlternatives
from django.core.mail.message import SafeMIMEText, forbid_multi_line_headers, sanitize_address

BOUNDARY_BYTES = 12
# RFC 5322, 2.1.1. Above it the library writes the text in another way.
LONGEST_LINE = 998
END = b"\r\n"
UTF_8 = "utf-8"
WIDTH = Compat32().max_line_length or 0
_PLAIN_ADDRESS = re.compile(r"[\w+-]+(\.[\w+-]+)*@[a-z0-9-]+(\.[a-z0-9-]+)*", re.ASCII | re.IGNORECASE)
_LINE_END = re.compile(rb"\r\n|\r|\n")
# Whoever gives one of these by hand gets the library's rules for it.
_OWN_PLACE = {"from", "to", "cc", "reply-to", "date"}


class _Unfolded(Compat32):
    """The library's own policy for such messages."""

    def fold_binary(self, name: str, value: Any) -> bytes:
        if isinstance(value, str) and _fits(line := f"{name}: {value}"):
            return (line + self.linesep).encode("ascii")
        return super().fold_binary(name, value)


_UNFOLDED = _Unfolded(linesep="\r\n")


def as_bytes(mail: EmailMessage) -> bytes:
    return _at_once(mail) or written(mail.message())


def written(mail: Message) -> bytes:
    for part in mail.walk():
        if part.get_content_maintype() == "multipart" and part.get_boundary() is None:
            part.set_boundary(secrets.token_urlsafe(BOUNDARY_BYTES))
    out = BytesIO()
    BytesGenerator(out, mangle_from_=False, policy=_UNFOLDED).flatten(mail, linesep="\r\n")
    return out.getvalue()


def recipient(address: str, encoding: str) -> str:
    """As the server is told it. Most are plain, and stay as they are."""
    return address if _PLAIN_ADDRESS.fullmatch(address) else str(sanitize_address(address, encoding))


# The same few over and over.
sender = lru_cache(maxsize=16)(sanitize_address)


def _at_once(mail: EmailMessage) -> bytes:
    """Nothing where a mail is made otherwise than ours are: then the library writes it."""
    if type(mail) is not EmailMultiAlternatives or not (mail.body and mail.alternatives) or not _is_usual(mail):
        return b""
    texts = [(mail.body, "text/plain"), *mail.alternatives]
    parts = [_part(text, kind) if isinstance(text, str) and kind.startswith("text/") else b"" for text, kind in texts]
    if not all(parts):
        return b""
    boundary = secrets.token_urlsafe(BOUNDARY_BYTES).encode("ascii")
    above = b'Content-Type: multipart/alternative; boundary="%b"\r\nMIME-Version: 1.0\r\n' % boundary
    between = b"--%b\r\n" % boundary
    below = b"\r\n--%b--\r\n" % boundary
    return b"".join((above, *_headers(mail), END, between, (END + between).join(parts), below))


def _is_usual(mail: EmailMultiAlternatives) -> bool:
    given = {name.lower() for name in mail.extra_headers}
    return (
        not (mail.attachments or mail.cc or given & _OWN_PLACE)
        and "message-id" in given
        and mail.encoding is None
        and mail.content_subtype == "plain"
    )


def _part(text: str, kind: str) -> bytes:
    """Nothing where a line is too long to stand as it is."""
    lines = _LINE_END.split(text.encode(UTF_8))
    if max(map(len, lines)) > LONGEST_LINE:
        return b""
    body = END.join(lines)
    return _above(kind, body.isascii()) + body


@lru_cache(maxsize=16)
def _above(kind: str, is_ascii: bool) -> bytes:
    part = SafeMIMEText("a" if is_ascii else "ä", kind.removeprefix("text/"), UTF_8)
    return written(part).partition(END + END)[0] + END + END


def _headers(mail: EmailMultiAlternatives) -> Iterator[bytes]:
    """In the library's own order."""
    yield _header("Subject", str(mail.subject))
    yield _header("From", str(mail.from_email))
    for name, addresses in (("To", mail.to), ("Reply-To", mail.reply_to)):
        if addresses:
            yield _header(name, ", ".join(map(str, addresses)))
    yield _header("Date", formatdate(localtime=settings.EMAIL_USE_LOCALTIME))
    for name, value in mail.extra_headers.items():
        yield _header(name, str(value))


def _header(name: str, value: str) -> bytes:
    line = f"{name}: {value}"
    # Of a subject the library also looks at its spaces.
    return (line + "\r\n").encode("ascii") if name != "Subject" and _fits(line) else _folded(name, value)


# Practices are few, and no name stands in a subject.
@lru_cache(maxsize=256)
def _folded(name: str, value: str) -> bytes:
    return _UNFOLDED.fold_binary(*forbid_multi_line_headers(name, value, UTF_8))


def _fits(line: str) -> bool:
    return line.isascii() and line.isprintable() and len(line) <= WIDTH
