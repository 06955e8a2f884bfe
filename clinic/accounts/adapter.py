"""How the sign-in library is bent to a practice: no sign-up, mail with our words, secrets encrypted."""

from io import BytesIO
from typing import Any
from urllib.parse import urlsplit

import segno
from allauth.account.adapter import DefaultAccountAdapter
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from clinic.accounts import post, sessions
from clinic.accounts.doors import opens
from clinic.accounts.models import User
from clinic.accounts.pages import first_page
from clinic.accounts.receivers import note
from clinic.accounts.rights import needs_second_factor
from clinic.trail.clock import real_now
from clinic.trail.fields import open_text, seal_text


def display_name(user: User) -> str:
    return user.name


class StaffAdapter(DefaultAccountAdapter):  # type: ignore[misc]  # the library ships no types
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def get_login_redirect_url(self, request: HttpRequest) -> str:
        return first_page(request.user)

    def is_safe_url(self, url: str | None) -> bool:
        """Where a sign-in may lead: into this house, and to something that shows when it is opened."""
        return bool(super().is_safe_url(url)) and opens(urlsplit(url or "").path)

    def format_email_subject(self, subject: str) -> str:
        return subject

    def get_reset_password_from_key_url(self, key: str) -> str:
        # From the settings, not from the request: a forged Host header must not end up in a mail.
        uid, token = key.split("-", 1)
        path = reverse("account_reset_password_from_key", kwargs={"uidb36": uid, "key": token})
        return settings.PUBLIC_URL + path

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        post.send(self.render_mail(template_prefix, email, {"email": email, **context}))

    def logout(self, request: HttpRequest) -> None:
        if isinstance(request.user, User):
            note("accounts.signed_out", request.user)
        super().logout(request)

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        # Right after signing in nobody is asked again; opening the screen lock does not count.
        return not sessions.signed_in_lately(self.request, real_now())


class SecondFactorAdapter(DefaultMFAAdapter):  # type: ignore[misc]  # the library ships no types
    def encrypt(self, text: str) -> str:
        return seal_text(text)

    def decrypt(self, encrypted_text: str) -> str:
        return open_text(encrypted_text)

    def build_totp_svg(self, url: str) -> str:
        """Black on white in dark mode too: a phone's camera does not read it otherwise."""
        picture = BytesIO()
        segno.make(url, micro=False).save(picture, kind="svg", light="white", border=4, xmldecl=False, omitsize=True)
        return picture.getvalue().decode("utf-8")

    def can_delete_authenticator(self, authenticator: Authenticator) -> bool:
        """Who must have a second factor cannot drop it; a manager resets a lost one."""
        return not needs_second_factor(authenticator.user)
