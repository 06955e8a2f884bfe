"""Somebody died or moved away: each room ends what it still had in mind for them, in the same transaction.

This room does not know the others; each registers what it ends in its AppConfig.ready.
"""

from collections.abc import Callable
from datetime import datetime
from enum import StrEnum

from clinic.patients.models import Patient
from clinic.trail.actor import Actor


class Leaving(StrEnum):
    DIED = "died"
    # Somebody who lives elsewhere is still asked how they are after a treatment, and answered.
    MOVED = "moved"


Ender = Callable[[Patient, Leaving, Actor, datetime], None]
_enders: dict[str, Ender] = {}


def register(code: str, ender: Ender) -> None:
    _enders[code] = ender


def end_what_is_due(patient: Patient, leaving: Leaving, *, actor: Actor, now: datetime) -> None:
    """Inside the transaction that notes it."""
    for ender in _enders.values():
        ender(patient, leaving, actor, now)
