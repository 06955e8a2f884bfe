"""Files on their way in: one that is only looked at while it streams past, and one that is held in memory.

Of the first its hash and identifier are kept, its bytes never. The second, a paper of a patient, touches no
temporary folder: it is looked into, and written once to where it stays.
"""

import hashlib
import re
from io import BytesIO
from typing import Any

from django.core.files.uploadedfile import InMemoryUploadedFile
from django.core.files.uploadhandler import FileUploadHandler, StopUpload
from django.http import HttpRequest

MOST_BYTES = 25 * 1024 * 1024
_OVERLAP = 256
_MOST_IDENTIFIERS = 8
# The first half of a file identifier, as text or in hexadecimal digits; other programs keep it as it was.
_IDENTIFIER = re.compile(rb"/ID\s*\[\s*(?:\(([0-9a-f]{32})\)|<([0-9A-Fa-f]{64})>)")


class Fingerprint(InMemoryUploadedFile):
    """What is left of an uploaded file."""

    def __init__(self, *, name: str, size: int, sha256: str, identifiers: frozenset[str], is_pdf: bool) -> None:
        super().__init__(BytesIO(), None, name, "application/pdf", size, None)
        self.sha256 = sha256
        self.identifiers = identifiers
        self.is_pdf = is_pdf


class FingerprintHandler(FileUploadHandler):
    """Takes the place of the usual handlers, which would keep a stranger's file on our disk."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.is_too_big = False

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        self._digest, self._size = hashlib.sha256(), 0
        self._start, self._tail = b"", b""
        self._identifiers: set[str] = set()

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        self._size += len(raw_data)
        if self._size > MOST_BYTES:
            self.is_too_big = True
            raise StopUpload(connection_reset=True)
        self._digest.update(raw_data)
        self._start = self._start or raw_data[:5]
        text = self._tail + raw_data
        for plain, digits in _IDENTIFIER.findall(text):
            if len(self._identifiers) < _MOST_IDENTIFIERS:
                self._identifiers.add((plain or bytes.fromhex(digits.decode())).decode("ascii", "replace"))
        self._tail = text[-_OVERLAP:]

    def file_complete(self, file_size: int) -> Fingerprint:
        return Fingerprint(
            name=self.file_name or "",
            size=self._size,
            sha256=self._digest.hexdigest(),
            identifiers=frozenset(self._identifiers),
            is_pdf=self._start == b"%PDF-",
        )


class HeldInMemory(FileUploadHandler):
    """The usual handler of every form. Past the limit nothing more is read, and the form says so."""

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        self._pieces: list[bytes] = []
        self._size = 0

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        self._size += len(raw_data)
        if self._size > MOST_BYTES:
            vars(self.request)[_TOO_BIG] = True
            raise StopUpload(connection_reset=True)
        self._pieces.append(raw_data)

    def file_complete(self, file_size: int) -> InMemoryUploadedFile:
        content = BytesIO(b"".join(self._pieces))
        return InMemoryUploadedFile(
            content, self.field_name, self.file_name or "", self.content_type, self._size, self.charset
        )


_TOO_BIG = "upload_is_too_big"


def was_too_big(request: HttpRequest) -> bool:
    """Asked after the form was read."""
    return bool(vars(request).get(_TOO_BIG))
