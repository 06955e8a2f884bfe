"""From which day on a visit may be. Another room knows what it waits for; this room only starts looking there."""

from collections.abc import Callable
from datetime import date, datetime

from clinic.diary.models import Booking

# Gives the first possible day of a visit that waits, or None: it waits for nothing, or is not this room's.
Waiting = Callable[[Booking, datetime], date | None]
_waiting: list[Waiting] = []


def register(waiting: Waiting) -> None:
    if waiting not in _waiting:
        _waiting.append(waiting)


def not_before_on(booking: Booking, *, now: datetime) -> date | None:
    days = [day for ask in _waiting if (day := ask(booking, now)) is not None]
    return max(days, default=None)
