"""What goes on with the patient while questions are asked: a session at the chair may be running.

This part lies below the chair and knows no session; the chair registers itself when the program starts.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.trail.actor import Actor
from whitening.cases.models import Case
from whitening.screening.models import Reask


@dataclass(frozen=True, slots=True)
class WayBack:
    """Where somebody came from who asks in between."""

    url: str
    title: StrOrPromise


class Running(Protocol):
    def hold(self, *, case: Case) -> None:
        """Locks what the re-ask will be told to. Comes before the case is locked, in the order of the chair itself."""

    def asked_again(self, *, reask: Reask, user: User, actor: Actor, now: datetime) -> None:
        """In the transaction of the re-ask: what raises here leaves nothing of it."""

    def way_back(self, *, case: Case, user: User) -> WayBack | None: ...


_registered: list[Running] = []


def register(running: Running) -> None:
    if running not in _registered:
        _registered.append(running)


def hold(*, case: Case) -> None:
    for running in _registered:
        running.hold(case=case)


def asked_again(*, reask: Reask, user: User, actor: Actor, now: datetime) -> None:
    for running in _registered:
        running.asked_again(reask=reask, user=user, actor=actor, now=now)


def way_back(*, case: Case, user: User) -> WayBack | None:
    ways = (running.way_back(case=case, user=user) for running in _registered)
    return next((way for way in ways if way is not None), None)
