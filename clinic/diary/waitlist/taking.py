"""A new visit from the waiting list or from the diary's own pages: the room that knows what it is for takes it in."""

from collections.abc import Callable
from datetime import datetime

from clinic.diary.models import Booking
from clinic.trail.actor import Actor

# In the transaction that books it. One that belongs to no other room stays a visit of the diary alone.
TakeIn = Callable[[Booking, Actor, datetime], None]
_takers: list[TakeIn] = []


def register(taker: TakeIn) -> None:
    if taker not in _takers:
        _takers.append(taker)


def booked(booking: Booking, *, actor: Actor, now: datetime) -> None:
    for taker in _takers:
        taker(booking, actor, now)
