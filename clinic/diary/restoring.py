"""A lost visit that comes back: the room that knows what it was for says whether it may, and takes it in again."""

from collections.abc import Callable
from datetime import datetime

from clinic.diary.models import Booking
from clinic.trail.actor import Actor

# Raises that room's refusal; inside the transaction that brings the visit back, before it stands again.
TakeIn = Callable[[Booking, Actor, datetime], None]
_takers: list[TakeIn] = []


def register(taker: TakeIn) -> None:
    if taker not in _takers:
        _takers.append(taker)


def returns(booking: Booking, *, actor: Actor, now: datetime) -> None:
    for taker in _takers:
        taker(booking, actor, now)
