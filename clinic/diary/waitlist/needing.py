"""How long a visit from the waiting list takes, and with which light: as it is booked, as planned, or as wished for."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from clinic.diary.models import WaitingWish


class Needed(NamedTuple):
    cycles: int
    light_kind: str
    # Of one cycle, as planned; 0: nobody has planned it yet.
    cycle_minutes: int = 0


# By wish, for those whose visit the room has planned; the others are left out.
Planned = Callable[[Sequence[WaitingWish]], Mapping[int, Needed]]
_rooms: list[Planned] = []


def register(planned: Planned) -> None:
    if planned not in _rooms:
        _rooms.append(planned)


def needs_of(wishes: Sequence[WaitingWish]) -> dict[int, Needed]:
    """By wish. A booked visit moves with what it was booked for: its plan may have changed since."""
    new = [wish for wish in wishes if wish.booking is None]
    found: dict[int, Needed] = {}
    for planned in _rooms if new else ():
        found |= planned(new)
    return {wish.pk: found.get(wish.pk) or _its_own(wish) for wish in wishes}


def _its_own(wish: WaitingWish) -> Needed:
    return Needed(*wish.shape, wish.booking.cycle_minutes if wish.booking is not None else 0)
