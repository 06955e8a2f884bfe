"""What the tests of sign-in share: the code of the moment, and a full sign-in through the pages."""

from collections.abc import Sequence

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import User
from tests.answer import Answer
from tests.cast import PASSWORD, TOTP_SECRET
from tests.clinic.accounts.totp import totp


class AwayBackend(BaseEmailBackend):
    """A mail server that nobody can reach."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        raise ConnectionRefusedError


def type_password(client: Client, user: User, password: str = PASSWORD) -> Answer:
    return client.post(reverse("account_login"), {"login": user.email, "password": password})


def full_sign_in(client: Client, user: User, *, factor: bool = True) -> Client:
    type_password(client, user)
    if factor:
        answer = client.post(reverse("mfa_authenticate"), {"code": totp(TOTP_SECRET)})
        assert answer.status_code == 302, answer.content.decode()
    return client
