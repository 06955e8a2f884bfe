"""Visits that another one came too near to, as the room whose visits they are says: whoever moved it moves them too."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django_stubs_ext import StrOrPromise

from clinic.diary.models import Booking


@dataclass(frozen=True, slots=True)
class TooNear:
    """words: why, and what to do."""

    booking: Booking
    words: StrOrPromise


Room = Callable[[Booking], Iterable[TooNear]]
_rooms: list[Room] = []


def register(room: Room) -> None:
    if room not in _rooms:
        _rooms.append(room)


def too_near(booking: Booking) -> list[TooNear]:
    """Worked out anew each time it is shown: no sentence can go stale."""
    return [one for room in _rooms for one in room(booking)]
