"""A mail as the bytes that go over the line, the same as the library would write, with less searching.

A header that fits on its line is not looked through for places to fold it, and nothing is read again to find a
boundary that does not stand in it: a random one of 96 bits never does.
"""

import re
import secrets
from email.generator import BytesGenerator
from email.message import Message
from email.policy import Compat32
from functools import lru_cache
from io import BytesIO
from typing import Any

from django.core.mail.message import sanitize_address

BOUNDARY_BYTES = 12
_PLAIN_ADDRESS = re.compile(r"[\w+-]+(\.[\w+-]+)*@[a-z0-9-]+(\.[a-z0-9-]+)*", re.ASCII | re.IGNORECASE)


class _Unfolded(Compat32):
    """The library's own policy for such messages."""

    def fold_binary(self, name: str, value: Any) -> bytes:
        line = f"{name}: {value}"
        if (
            isinstance(value, str)
            and line.isascii()
            and line.isprintable()
            and len(line) <= (self.max_line_length or 0)
        ):
            return (line + self.linesep).encode("ascii")
        return super().fold_binary(name, value)


_UNFOLDED = _Unfolded()


def as_bytes(mail: Message) -> bytes:
    for part in mail.walk():
        if part.get_content_maintype() == "multipart" and part.get_boundary() is None:
            part.set_boundary(secrets.token_urlsafe(BOUNDARY_BYTES))
    written = BytesIO()
    BytesGenerator(written, mangle_from_=False, policy=_UNFOLDED).flatten(mail, linesep="\r\n")
    return written.getvalue()


def recipient(address: str, encoding: str) -> str:
    """As the server is told it. Most are plain, and stay as they are."""
    return address if _PLAIN_ADDRESS.fullmatch(address) else str(sanitize_address(address, encoding))


# The same few over and over.
sender = lru_cache(maxsize=16)(sanitize_address)
