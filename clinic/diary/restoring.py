"""A cancelled visit that comes back: the room that knows what it was for says whether it still may."""

from collections.abc import Callable
from datetime import datetime

from clinic.diary.models import Booking

# Raises that room's refusal; inside the transaction that brings the visit back.
Check = Callable[[Booking, datetime], None]
_checks: list[Check] = []


def register(check: Check) -> None:
    if check not in _checks:
        _checks.append(check)


def check(booking: Booking, *, now: datetime) -> None:
    for one in _checks:
        one(booking, now)
