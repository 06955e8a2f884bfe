"""An encrypted stream in chunks: nothing of an archive can be read, altered, reordered or cut unseen.

Each chunk is AES-256-GCM; its nonce is the chunk's number and whether it is the last. The key is made
for this archive alone from a key of the settings, whose id stands in the header.
"""

import json
import os
import struct
from typing import IO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from clinic.trail import keys

MAGIC = b"CASEBOOK BACKUP 1\n"
CHUNK_BYTES = 1 << 20
PURPOSE = "casebook backup 1"
_LENGTH = struct.Struct(">I")


class ArchiveUnreadable(Exception):
    """Not an archive, damaged, cut short, altered, or made under a key that the settings do not hold."""


class SealedWriter:
    """Takes plain bytes, writes chunks; without `close` the archive has no end and cannot be read."""

    def __init__(self, file: IO[bytes]) -> None:
        key_id, secret = next(iter(keys.derived(PURPOSE).items()))
        salt = os.urandom(16)
        self._header = MAGIC + json.dumps({"key": key_id, "salt": salt.hex()}).encode("ascii") + b"\n"
        self._cipher = _cipher(secret, salt)
        self._file, self._waiting, self._number = file, bytearray(), 0
        file.write(self._header)

    def write(self, data: bytes) -> int:
        self._waiting += data
        # Strictly more: the last chunk is written by `close`, and there must be one.
        while len(self._waiting) > CHUNK_BYTES:
            self._put(bytes(self._waiting[:CHUNK_BYTES]), last=False)
            del self._waiting[:CHUNK_BYTES]
        return len(data)

    def close(self) -> None:
        self._put(bytes(self._waiting), last=True)
        self._waiting.clear()

    def _put(self, plain: bytes, *, last: bool) -> None:
        chunk = self._cipher.encrypt(_nonce(self._number, last=last), plain, self._header)
        self._file.write(_LENGTH.pack(len(chunk)) + chunk)
        self._number += 1


class SealedReader:
    """Gives the plain bytes back; ArchiveUnreadable at the first one that is not as it was written."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file, self._plain, self._number, self._ended = file, bytearray(), 0, False
        if file.read(len(MAGIC)) != MAGIC:
            raise ArchiveUnreadable("This file is no backup of the casebook.")
        line = file.readline(1_000)
        self._header = MAGIC + line
        self._cipher = _cipher_of(line)

    def read(self, size: int) -> bytes:
        while len(self._plain) < size and not self._ended:
            self._take()
        taken = bytes(self._plain[:size])
        del self._plain[:size]
        return taken

    def drain(self) -> None:
        """Reads on to the end, so that a cut or an addition after the last file shows too."""
        while self.read(CHUNK_BYTES):
            pass
        if self._file.read(1):
            raise ArchiveUnreadable("The archive goes on after its end.")

    def _take(self) -> None:
        prefix = self._file.read(_LENGTH.size)
        if len(prefix) < _LENGTH.size:
            raise ArchiveUnreadable("The archive was cut short.")
        (length,) = _LENGTH.unpack(prefix)
        if length > CHUNK_BYTES + 16:
            raise ArchiveUnreadable("The archive is damaged or was altered.")
        chunk = self._file.read(length)
        self._plain += self._open(chunk)
        self._number += 1

    def _open(self, chunk: bytes) -> bytes:
        for last in (False, True):
            try:
                plain = self._cipher.decrypt(_nonce(self._number, last=last), chunk, self._header)
            except (InvalidTag, ValueError):
                continue
            self._ended = last
            return plain
        raise ArchiveUnreadable("The archive is damaged or was altered.")


def _nonce(number: int, *, last: bool) -> bytes:
    return number.to_bytes(11, "big") + bytes([last])


def _cipher(secret: bytes, salt: bytes) -> AESGCM:
    return AESGCM(HKDF(algorithm=hashes.SHA256(), length=32, salt=salt, info=b"archive").derive(secret))


def _cipher_of(line: bytes) -> AESGCM:
    try:
        header = json.loads(line)
        key_id, salt = str(header["key"]), bytes.fromhex(header["salt"])
    except (ValueError, KeyError, TypeError) as error:
        raise ArchiveUnreadable("The archive's first lines are damaged.") from error
    secret = keys.derived(PURPOSE).get(key_id)
    if secret is None:
        raise ArchiveUnreadable("The archive was made under a key that CASEBOOK_FIELD_KEYS does not hold.")
    return _cipher(secret, salt)
