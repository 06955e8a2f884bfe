"""When a visit may be, for a patient who moves it alone. The room that knows its purpose says so."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, time

from clinic.diary import earliest, waiting
from clinic.diary.engine.working import instant
from clinic.diary.models import Booking


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The visit starts at `earliest_at` or later and before `latest_at`. is_closed: only the practice moves it."""

    earliest_at: datetime | None = None
    latest_at: datetime | None = None
    is_closed: bool = False


# Gives the limits of a visit, or None for one that is not this room's.
Provider = Callable[[Booking, datetime], Limits | None]
_providers: list[Provider] = []


def register(provider: Provider) -> None:
    if provider not in _providers:
        _providers.append(provider)


def limits_of(booking: Booking, *, now: datetime) -> Limits:
    """What all rooms say, together with what holds for whoever moves the visit."""
    said = [found for ask in _providers if (found := ask(booking, now)) is not None]
    return together([*said, Limits(earliest_at=earliest.earliest_at(booking)), _waits(booking, now)])


def together(some: Iterable[Limits]) -> Limits:
    """The narrowest of them."""
    found = list(some)
    return Limits(
        earliest_at=max((one.earliest_at for one in found if one.earliest_at is not None), default=None),
        latest_at=min((one.latest_at for one in found if one.latest_at is not None), default=None),
        is_closed=any(one.is_closed for one in found),
    )


def _waits(booking: Booking, now: datetime) -> Limits:
    first_on = waiting.not_before_on(booking, now=now)
    return Limits(earliest_at=instant(first_on, time(0), booking.site.zone) if first_on else None)
