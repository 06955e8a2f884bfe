"""How the two processes speak: two lengths, a JSON header, then the bytes of a file."""

import json
import struct
from collections.abc import Mapping
from typing import Any, BinaryIO

HEAD = struct.Struct(">II")
Header = dict[str, Any]


class BrokenFrame(EOFError):
    """The other side closed in the middle of a message."""


def pack(header: Mapping[str, object], body: bytes = b"") -> bytes:
    text = json.dumps(header).encode()
    return HEAD.pack(len(text), len(body)) + text + body


def read(stream: BinaryIO) -> Header | None:
    """The next request, or None when the other side has gone. Requests carry no bytes after the header."""
    head = stream.read(HEAD.size)
    if not head:
        return None
    if len(head) < HEAD.size:
        raise BrokenFrame
    size, _ = HEAD.unpack(head)
    text = stream.read(size)
    if len(text) < size:
        raise BrokenFrame
    return unpack(text)


def unpack(text: bytes) -> Header:
    header: Header = json.loads(text)
    return header
