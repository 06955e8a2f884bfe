"""Until when a visit is only pencilled: another room knows what has to be agreed first. Without one it is booked."""

from collections.abc import Callable
from datetime import datetime

from clinic.diary.models import Booking

# Gives the moment at which the visit lapses unless it is confirmed, or None: nothing has to be agreed first.
Until = Callable[[Booking, datetime], datetime | None]
_rooms: list[Until] = []


def register(until: Until) -> None:
    if until not in _rooms:
        _rooms.append(until)


def until(booking: Booking, *, now: datetime) -> datetime | None:
    asked = (ask(booking, now) for ask in _rooms)
    return min((moment for moment in asked if moment is not None), default=None)
