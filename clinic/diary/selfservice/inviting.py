"""What an invitation to pick a time is for: the room that made it says what to look for, and books it its own way."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from clinic.diary.models import Booking, TimeInvitation
from clinic.diary.openings import Wanted
from clinic.diary.selfservice.limits import Limits
from clinic.trail.actor import Actor


@dataclass(frozen=True, slots=True)
class Asked:
    wanted: Wanted
    limits: Limits = field(default_factory=Limits)


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """asked: None for an invitation of another room. book: within those limits, inside the caller's transaction."""

    asked: Callable[[TimeInvitation, datetime], Asked | None]
    book: Callable[[TimeInvitation, datetime, Actor, datetime], Booking]


_rooms: list[Room] = []


def register(room: Room) -> None:
    if room not in _rooms:
        _rooms.append(room)


def of(invitation: TimeInvitation, *, now: datetime) -> tuple[Asked, Room | None]:
    """Without a room it is the diary's own: any time that the practice's rules allow."""
    for room in _rooms:
        if (asked := room.asked(invitation, now)) is not None:
            return asked, room
    return Asked(Wanted(invitation.visit_type, invitation.cycles, invitation.light_kind, now=now)), None
