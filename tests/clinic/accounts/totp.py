"""The code of the moment, by RFC 6238 written down once more: the library is not checked with itself."""

import base64
import hmac
import struct
import time

TYPING_SECONDS = 5


def totp(secret: str, *, at: float | None = None, digits: int = 6) -> str:
    counter = int((time.time() if at is None else at) // 30)
    digest = hmac.new(base64.b32decode(secret), struct.pack(">Q", counter), "sha1").digest()
    start = digest[-1] & 15
    return str((struct.unpack(">I", digest[start : start + 4])[0] & 0x7FFFFFFF) % 10**digits).zfill(digits)


def lasting_totp(secret: str) -> str:
    """For somebody who types: the code of the moment, not one that ends before the server has looked at it."""
    left = 30 - time.time() % 30
    if left < TYPING_SECONDS:
        time.sleep(left)
    return totp(secret)
