"""What the tests of sign-in share: the code of the moment, and a full sign-in through the pages."""

import base64
import hmac
import struct
import time
from collections.abc import Sequence

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import User
from tests.answer import Answer
from tests.cast import PASSWORD, TOTP_SECRET


class AwayBackend(BaseEmailBackend):
    """A mail server that nobody can reach."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        raise ConnectionRefusedError


def totp(secret: str = TOTP_SECRET, *, at: float | None = None, digits: int = 6) -> str:
    """RFC 6238 written down once more, so that the library is not checked with itself."""
    counter = int((time.time() if at is None else at) // 30)
    digest = hmac.new(base64.b32decode(secret), struct.pack(">Q", counter), "sha1").digest()
    start = digest[-1] & 15
    return str((struct.unpack(">I", digest[start : start + 4])[0] & 0x7FFFFFFF) % 10**digits).zfill(digits)


def type_password(client: Client, user: User, password: str = PASSWORD) -> Answer:
    return client.post(reverse("account_login"), {"login": user.email, "password": password})


def full_sign_in(client: Client, user: User, *, factor: bool = True) -> Client:
    type_password(client, user)
    if factor:
        answer = client.post(reverse("mfa_authenticate"), {"code": totp()})
        assert answer.status_code == 302, answer.content.decode()
    return client
