"""Visits of which another room keeps an open record: that record ends them, and no press in the diary does."""

from collections.abc import Callable
from dataclasses import dataclass

from clinic.accounts.rights import Capability
from clinic.diary.models import Booking


@dataclass(frozen=True, slots=True)
class OpenRecord:
    """Where it is closed, and what one must be allowed to do there."""

    url: str
    to: Capability


Room = Callable[[Booking], OpenRecord | None]
_rooms: list[Room] = []


def register(room: Room) -> None:
    if room not in _rooms:
        _rooms.append(room)


def open_record(booking: Booking) -> OpenRecord | None:
    return next(filter(None, (room(booking) for room in _rooms)), None)
