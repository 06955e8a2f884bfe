"""Who confirms a pencilled visit: the diary itself, or the room that knows what has to be agreed first."""

from collections.abc import Callable
from datetime import datetime

from clinic.diary import actions
from clinic.diary.models import Booking
from clinic.trail.actor import Actor

# Gives the confirmed booking, or None for a visit that is not this room's; raises a Refusal while it must wait.
Confirmer = Callable[[Booking, Actor, datetime], Booking | None]
_confirmers: list[Confirmer] = []


def register(confirmer: Confirmer) -> None:
    if confirmer not in _confirmers:
        _confirmers.append(confirmer)


def confirm(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    for confirmer in _confirmers:
        if (confirmed := confirmer(booking, actor, now)) is not None:
            return confirmed
    return actions.confirm(booking=booking, actor=actor, now=now)
