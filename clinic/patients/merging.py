"""Two records of one person are joined: each room says what speaks against it, and moves what is its own.

This room does not know the others; each registers in its AppConfig.ready. Everything happens in the transaction
that makes the other record an alias, under the locks of both.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django_stubs_ext import StrOrPromise

from clinic.patients.models import Patient
from clinic.trail.actor import Actor

# By the name of what was moved, the keys of its rows, or a number beside each: kept in the trail, so that it can be
# moved back.
Moved = Mapping[str, Sequence[int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Joining:
    """Both as they stand under their locks."""

    kept: Patient
    other: Patient
    actor: Actor
    now: datetime

    @property
    def both(self) -> tuple[Patient, Patient]:
        return self.kept, self.other


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """check: raises the room's own refusal. back: points what `move` gave at the other record again.

    tell: what the room knows of a record, in words that everybody at the desk may read.
    """

    code: str
    check: Callable[[Joining], None] | None = None
    move: Callable[[Joining], Moved] | None = None
    back: Callable[[Joining, Moved], None] | None = None
    tell: Callable[[Patient, datetime], Iterable[StrOrPromise]] | None = None


_rooms: dict[str, Room] = {}


def register(room: Room) -> None:
    _rooms[room.code] = room


def check(joining: Joining) -> None:
    for room in _rooms.values():
        if room.check is not None:
            room.check(joining)


def move(joining: Joining) -> dict[str, dict[str, list[int]]]:
    moved = {code: room.move(joining) for code, room in _rooms.items() if room.move is not None}
    return {code: {name: list(keys) for name, keys in rows.items() if keys} for code, rows in moved.items()}


def move_back(joining: Joining, moved: Mapping[str, Moved]) -> None:
    """In the opposite order."""
    for code, room in reversed(_rooms.items()):
        if room.back is not None:
            room.back(joining, moved.get(code, {}))


def told(patient: Patient, *, now: datetime) -> list[StrOrPromise]:
    """What the rooms know of one record, for the page that shows two side by side."""
    return [line for room in _rooms.values() if room.tell is not None for line in room.tell(patient, now)]


def repoint(rows: "QuerySet[Any]", joining: Joining) -> list[int]:
    """The other record's rows are the kept one's from now on; gives their keys. Locked in their order first."""
    theirs = rows.filter(patient=joining.other).order_by("pk").select_for_update(no_key=True, of=("self",))
    keys = list(theirs.values_list("pk", flat=True))
    rows.filter(pk__in=keys).update(patient=joining.kept)
    return keys


def point_back(rows: "QuerySet[Any]", joining: Joining, keys: Sequence[int]) -> None:
    """Only such as are still the kept record's."""
    rows.filter(pk__in=keys, patient=joining.kept).update(patient=joining.other)
