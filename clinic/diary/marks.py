"""The gate mark beside a booking. Another room knows what it means; this room only asks and shows it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.diary.models import Booking


@dataclass(frozen=True, slots=True)
class Mark:
    """kind is one of the marks of the shell; lines say what is missing without any clinical reason.

    move: the time itself is what is wrong, and whoever looks may give it another.
    not_agreed: what has to be agreed before a pencilled time is confirmed is not; confirming would be refused.
    """

    kind: str
    lines: tuple[StrOrPromise, ...] = ()
    url: str = ""
    move: bool = False
    not_agreed: bool = False


Provider = Callable[[Sequence[Booking], User, datetime], dict[int, Mark]]
_providers: list[Provider] = []


def register(provider: Provider) -> None:
    if provider not in _providers:
        _providers.append(provider)


def marks_for(bookings: Sequence[Booking], *, user: User, now: datetime) -> dict[int, Mark]:
    """Marks by booking id, asked for all bookings at once so that the queries do not grow with their number."""
    found: dict[int, Mark] = {}
    for provider in _providers:
        found |= provider(bookings, user, now)
    return found
