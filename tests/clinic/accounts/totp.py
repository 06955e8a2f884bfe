"""The code of the moment, by RFC 6238 written down once more: the library is not checked with itself."""

import base64
import hmac
import struct
import time


def totp(secret: str, *, at: float | None = None, digits: int = 6) -> str:
    counter = int((time.time() if at is None else at) // 30)
    digest = hmac.new(base64.b32decode(secret), struct.pack(">Q", counter), "sha1").digest()
    start = digest[-1] & 15
    return str((struct.unpack(">I", digest[start : start + 4])[0] & 0x7FFFFFFF) % 10**digits).zfill(digits)
