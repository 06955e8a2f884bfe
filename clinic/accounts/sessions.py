"""What the server keeps about a sign-in: since when, last used when, second factor shown, locked.

Sign-in goes by real time, never by the demo's clock.
"""

from datetime import UTC, datetime, timedelta
from typing import Any

from allauth.account.authentication import get_authentication_records
from allauth.mfa.models import Authenticator
from django.conf import settings
from django.contrib.auth import logout
from django.contrib.sessions.backends.db import SessionStore
from django.http import HttpRequest
from django.urls import reverse

from clinic.accounts.models import User
from clinic.trail.clock import real_now

SIGNED_IN = "signed_in_at"
ACTIVE = "active_at"
LOCKED = "locked"
FACTOR = "factor_shown"
SITE = "site"
# Written at most this often, so that looking at pages does not write to the database each time.
SAVED_EVERY = timedelta(minutes=1)
ASKED_AGAIN_AFTER = timedelta(minutes=10)
# How long after the last hour of a day's sign-in an open treatment may still be recorded.
AFTER_ABSOLUTE_AGE = timedelta(hours=4)


def begin(*, request: HttpRequest, user: User, **_signal: Any) -> None:
    """On every sign-in: the clocks start, and what the person before had chosen is gone."""
    now = real_now()
    request.session[SIGNED_IN] = request.session[ACTIVE] = now.timestamp()
    for name in (LOCKED, SITE):
        request.session.pop(name, None)
    request.session[FACTOR] = any(record["method"] == "mfa" for record in get_authentication_records(request, user))


def factor_shown(request: HttpRequest) -> bool:
    return bool(request.session.get(FACTOR))


def way_to_second_factor(request: HttpRequest, user: User, *, enrols: bool) -> str:
    """To enrolment; or, when a factor was set up elsewhere meanwhile, to a sign-in that asks for it.

    The pages about the factor itself send nobody to enrolment, and show nothing to a password alone.
    """
    if has_factor(user):
        logout(request)
        return reverse("account_login")
    return reverse("mfa_activate_totp") if enrols else ""


def has_factor(user: User) -> bool:
    return bool(Authenticator.objects.filter(user=user, type=Authenticator.Type.TOTP).exists())


def factor_was_shown(request: HttpRequest) -> None:
    request.session[FACTOR] = True


def is_locked(request: HttpRequest, now: datetime) -> bool:
    return bool(request.session.get(LOCKED)) or now - _at(request, ACTIVE) >= settings.IDLE_LOCK_AFTER


def is_over(request: HttpRequest, now: datetime) -> bool:
    return now - _at(request, SIGNED_IN) >= settings.SESSION_ABSOLUTE_AGE


def is_long_over(request: HttpRequest, now: datetime) -> bool:
    return now - _at(request, SIGNED_IN) >= settings.SESSION_ABSOLUTE_AGE + AFTER_ABSOLUTE_AGE


def signed_in_lately(request: HttpRequest, now: datetime) -> bool:
    """Password and second factor were given just now, so a delicate page need not ask again."""
    return now - _at(request, SIGNED_IN) < ASKED_AGAIN_AFTER


def touch(request: HttpRequest, now: datetime) -> None:
    if now - _at(request, ACTIVE) >= SAVED_EVERY:
        request.session[ACTIVE] = now.timestamp()


def lock(request: HttpRequest) -> None:
    request.session[LOCKED] = True


def unlock(request: HttpRequest, now: datetime) -> None:
    request.session.pop(LOCKED, None)
    request.session[ACTIVE] = now.timestamp()


def _at(request: HttpRequest, name: str) -> datetime:
    # A session that does not say when it began is one that we did not begin: as old as can be.
    return datetime.fromtimestamp(request.session.get(name, 0), tz=UTC)


def clear_expired() -> None:
    """Nobody can use them any more, and each names who signed in."""
    SessionStore.clear_expired()
