"""Who has signed in fully at this browser today, so that two people can share a screen by PIN.

The list lies in the server's session. It survives a change of person, never a sign-out.
"""

from datetime import datetime
from typing import TypedDict, cast

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, login, logout
from django.http import HttpRequest
from django.utils.crypto import constant_time_compare

from clinic.accounts import sessions
from clinic.accounts.models import User
from clinic.accounts.refusals import NotOnThisScreen

BENCH = "bench"


class Seat(TypedDict):
    signed_in_at: float
    factor_shown: bool
    site: int | None
    # As it was at the full sign-in: a changed password or ended access empties the seat.
    fingerprint: str
    backend: str


def seats(request: HttpRequest) -> dict[str, Seat]:
    return cast("dict[str, Seat]", dict(request.session.get(BENCH, {})))


def others(request: HttpRequest, now: datetime) -> list[User]:
    """Whom the screen can be handed to by PIN."""
    held = seats(request)
    people = User.objects.filter(pk__in=[int(key) for key in held], is_active=True).exclude(pin_hash="")
    here = request.user.pk
    return [user for user in people if user.pk != here and _holds(held[str(user.pk)], user, now)]


def sit_down(request: HttpRequest, user: User) -> dict[str, Seat]:
    """The bench with the person who is signed in now on it."""
    seat = Seat(
        signed_in_at=request.session[sessions.SIGNED_IN],
        factor_shown=sessions.factor_shown(request),
        site=request.session.get(sessions.SITE),
        fingerprint=user.get_session_auth_hash(),
        backend=request.session[BACKEND_SESSION_KEY],
    )
    return seats(request) | {str(user.pk): seat}


def make_room(request: HttpRequest, user: User) -> None:
    """Nobody is signed in afterwards; whoever was can come back by PIN."""
    bench = sit_down(request, user)
    logout(request)
    request.session[BENCH] = bench


def hand_over(request: HttpRequest, *, user: User) -> None:
    """To somebody of the bench whose PIN was right. The session gets a new key and the other's own clock."""
    seat = seats(request)[str(user.pk)]
    bench = sit_down(request, request.user) if isinstance(request.user, User) else seats(request)
    logout(request)
    login(request, user, backend=seat["backend"])
    request.session[BENCH] = bench
    request.session[sessions.SIGNED_IN] = seat["signed_in_at"]
    request.session[sessions.FACTOR] = seat["factor_shown"]
    request.session[sessions.SITE] = seat["site"]


def find(request: HttpRequest, *, user_id: int, now: datetime) -> User:
    user = next((one for one in others(request, now) if one.pk == user_id), None)
    if user is None:
        raise NotOnThisScreen
    return user


def leave_seat(request: HttpRequest, user: User) -> None:
    """Signed out, and not to come back by PIN; the others of the bench keep their seats."""
    bench = {key: seat for key, seat in seats(request).items() if key != str(user.pk)}
    logout(request)
    request.session[BENCH] = bench


def _holds(seat: Seat, user: User, now: datetime) -> bool:
    young = now.timestamp() - seat["signed_in_at"] < settings.SESSION_ABSOLUTE_AGE.total_seconds()
    return young and constant_time_compare(seat["fingerprint"], user.get_session_auth_hash())
