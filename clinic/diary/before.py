"""What a patient still has to do before a visit. Other rooms say it; this room only shows the list."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django_stubs_ext import StrOrPromise

from clinic.diary.models import Booking


@dataclass(frozen=True, slots=True)
class ToDo:
    """One thing to do. url_name takes no argument: the private link says whose it is."""

    title: StrOrPromise
    url_name: str
    minutes: int
    done: bool


Provider = Callable[[Booking, datetime], list[ToDo]]
_providers: list[Provider] = []


def register(provider: Provider) -> None:
    if provider not in _providers:
        _providers.append(provider)


def todos(booking: Booking, *, now: datetime) -> list[ToDo]:
    return [todo for provider in _providers for todo in provider(booking, now)]
