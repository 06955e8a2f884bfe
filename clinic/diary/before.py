"""What a patient still has to do before a visit. Other rooms say it; this room only shows the list."""

from collections.abc import Callable, Collection
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

    @property
    def is_missing(self) -> bool:
        return not self.done and not self.is_offer


Provider = Callable[[Booking, datetime], list[ToDo]]
# Of many visits, by their keys, those before which something that the provider beside it names is missing.
Missing = Callable[[Collection[Booking], datetime], Collection[int]]
_providers: list[tuple[Provider, Missing]] = []


def register(provider: Provider, *, missing: Missing) -> None:
    if (provider, missing) not in _providers:
        _providers.append((provider, missing))


def only_offers(_bookings: Collection[Booking], _now: datetime) -> Collection[int]:
    """`missing` of a provider that never names anything but offers."""
    return ()


def todos(booking: Booking, *, now: datetime) -> list[ToDo]:
    return [todo for provider, _missing in _providers for todo in provider(booking, now)]


def awaited(bookings: Collection[Booking], *, now: datetime) -> set[int]:
    """The keys of those visits before which something is still to be done: few questions, however many visits."""
    found: set[int] = set()
    for _provider, missing in _providers:
        left = [booking for booking in bookings if booking.pk not in found]
        found.update(missing(left, now) if left else ())
    return found


def is_awaited(booking: Booking, *, now: datetime) -> bool:
    """Whether anything is still to be done; of a visit that was read with many others it is known already."""
    if booking.is_awaited is None:
        return booking.pk in awaited([booking], now=now)
    return booking.is_awaited


def look_ahead(bookings: Collection[Booking], now: datetime) -> None:
    """For the words of a batch of messages."""
    found = awaited(bookings, now=now)
    for booking in bookings:
        booking.is_awaited = booking.pk in found
