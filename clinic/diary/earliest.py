"""From when on a visit may be: the room that knows its purpose says so; booking and moving both ask."""

from collections.abc import Callable
from datetime import datetime

from clinic.diary.models import Booking
from clinic.trail.refusals import Refusal

# The first moment at which this visit may start and what to say to an earlier one; None where any time will do.
Limit = tuple[datetime, Refusal]
Provider = Callable[[Booking], Limit | None]
_providers: list[Provider] = []


def register(provider: Provider) -> None:
    if provider not in _providers:
        _providers.append(provider)


def earliest_at(booking: Booking) -> datetime | None:
    """The latest of what all rooms say."""
    return max((starts_at for starts_at, _refusal in _limits(booking)), default=None)


def check(booking: Booking, *, start_at: datetime) -> None:
    """Raises the refusal of the room whose visit would be too early."""
    for starts_at, refusal in _limits(booking):
        if start_at < starts_at:
            raise refusal


def _limits(booking: Booking) -> list[Limit]:
    asked = (provider(booking) for provider in _providers)
    return [limit for limit in asked if limit is not None]
