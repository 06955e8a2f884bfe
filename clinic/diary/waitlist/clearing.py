"""Whether somebody would be clear to start by a day: another room knows what a visit needs, this one only asks."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.diary.models import WaitingWish


@dataclass(frozen=True, slots=True)
class Ask:
    """One wish at one time that is free: on which day, and who would treat or examine then."""

    wish: WaitingWish
    day: date
    clinician: User | None


@dataclass(frozen=True, slots=True)
class Clear:
    """words are fit for everybody: what is settled, or that something is missing; never a clinical reason.

    may_be False: on that day there must be no such visit at all, so it is offered to somebody else.
    """

    is_clear: bool
    words: StrOrPromise = ""
    may_be: bool = True


# For each ask that is this room's business, in one go; the others are left out.
Clearing = Callable[[Sequence[Ask], datetime], Mapping[Ask, Clear]]
NOTHING_NEEDED = Clear(is_clear=True)
_clearings: list[Clearing] = []


def register(clearing: Clearing) -> None:
    if clearing not in _clearings:
        _clearings.append(clearing)


def clear_by(asks: Sequence[Ask], *, now: datetime) -> dict[Ask, Clear]:
    """Of each ask; what nobody knows anything about needs nothing."""
    found: dict[Ask, Clear] = {}
    for clearing in _clearings:
        found |= clearing(asks, now)
    return {ask: found.get(ask, NOTHING_NEEDED) for ask in asks}
