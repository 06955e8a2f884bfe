"""Somebody died or moved away: each room ends what it still had in mind for them, in the same transaction.

Where that was a mistake, each gives back what it can, and says what a person has to see to. This room does not know
the others; each registers in its AppConfig.ready.
"""

from collections.abc import Callable
from datetime import date, datetime
from enum import StrEnum

from clinic.patients.models import Patient
from clinic.trail.actor import Actor


class Leaving(StrEnum):
    DIED = "died"
    # Somebody who lives elsewhere is still asked how they are after a treatment, and answered.
    MOVED = "moved"


Ender = Callable[[Patient, Leaving, Actor, datetime], None]
# With the day on which the mistake was noted; what it returns is said to whoever takes it back.
Restorer = Callable[[Patient, date, Actor, datetime], list[str]]
_enders: dict[str, Ender] = {}
_restorers: dict[str, Restorer] = {}


def register(code: str, *, ender: Ender | None = None, restorer: Restorer | None = None) -> None:
    if ender is not None:
        _enders[code] = ender
    if restorer is not None:
        _restorers[code] = restorer


def end_what_is_due(patient: Patient, leaving: Leaving, *, actor: Actor, now: datetime) -> None:
    """Inside the transaction that notes it."""
    for ender in _enders.values():
        ender(patient, leaving, actor, now)


def give_back(patient: Patient, *, since: date, actor: Actor, now: datetime) -> list[str]:
    """Inside the transaction that takes it back. The last room first: a message is wanted once its cause is back."""
    restorers = reversed(_restorers.values())
    return [sentence for restorer in restorers for sentence in restorer(patient, since, actor, now)]
