"""What the trail says about sign-in, and the clocks that start with it."""

from typing import Any

from allauth.account import signals as account
from allauth.mfa import signals as factor
from allauth.mfa.models import Authenticator
from django.contrib.auth.signals import user_logged_in, user_login_failed
from django.db import transaction
from django.http import HttpRequest

from clinic.accounts import sessions
from clinic.accounts.actions.screen import forget_failures
from clinic.accounts.models import User
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.record import record


def connect() -> None:
    here = "clinic_accounts"
    user_logged_in.connect(sessions.begin, dispatch_uid=f"{here}.begin")
    account.user_logged_in.connect(_signed_in, dispatch_uid=f"{here}.signed_in")
    user_login_failed.connect(_sign_in_failed, dispatch_uid=f"{here}.sign_in_failed")
    for signal in (account.password_changed, account.password_reset):
        signal.connect(_password_changed, dispatch_uid=f"{here}.password_changed")
    factor.authenticator_added.connect(_factor_added, dispatch_uid=f"{here}.factor_added")
    factor.authenticator_removed.connect(_factor_removed, dispatch_uid=f"{here}.factor_removed")


def note(verb: str, user: User, *, actor: Actor | None = None) -> None:
    with transaction.atomic():
        record(
            verb=verb,
            actor=actor or user.actor,
            subject=("user", user.pk),
            patient_id=None,
            site_id=None,
            values={},
        )


def _signed_in(*, user: User, **_signal: Any) -> None:
    # A full sign-in proves more than the PIN does, so the PIN's five tries begin anew.
    forget_failures(user)
    note("accounts.signed_in", user)


def _sign_in_failed(*, credentials: dict[str, Any], **_signal: Any) -> None:
    # Only of people who exist: the trail is no place for what strangers type.
    user = User.objects.filter(email=str(credentials.get("email", "")).strip().lower()).first()
    if user is not None:
        note("accounts.sign_in_failed", user, actor=SYSTEM)


def _password_changed(*, user: User, **_signal: Any) -> None:
    note("accounts.password_changed", user)


def _factor_added(*, user: User, authenticator: Authenticator, **_signal: Any) -> None:
    if authenticator.type == Authenticator.Type.TOTP:
        note("accounts.factor_added", user)


def _factor_removed(*, request: HttpRequest, user: User, authenticator: Authenticator, **_signal: Any) -> None:
    if authenticator.type == Authenticator.Type.TOTP:
        request.session.pop(sessions.FACTOR, None)
        note("accounts.factor_removed", user)
