"""What a patient still has to do before a visit. Other rooms say it; this room only shows the list."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django_stubs_ext import StrOrPromise

from clinic.diary.models import Booking


@dataclass(frozen=True, slots=True)
class ToDo:
    """One thing to do. url_name takes no argument: the private link says whose it is.

    An offer is there for whoever wants it, and never missing.
    """

    title: StrOrPromise
    url_name: str
    minutes: int
    done: bool
    is_offer: bool = False


Provider = Callable[[Booking, datetime], list[ToDo]]
_providers: list[Provider] = []


def register(provider: Provider) -> None:
    if provider not in _providers:
        _providers.append(provider)


def todos(booking: Booking, *, now: datetime) -> list[ToDo]:
    return [todo for provider in _providers for todo in provider(booking, now)]


def is_awaited(booking: Booking, *, now: datetime) -> bool:
    """Whether anything is still to be done."""
    return any(not todo.done for todo in todos(booking, now=now) if not todo.is_offer)
