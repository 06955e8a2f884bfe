"""What fits when a patient is late: asked of the engine with the room, the people and the light that the visit has."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from clinic.diary.engine.late import Bound, lead, which_fit
from clinic.diary.engine.spans import to_instant, to_minute, to_minute_up
from clinic.diary.models import Booking, Resource
from clinic.diary.openings import Search, Wanted, visit_shape
from clinic.diary.shapes import SEATED


@dataclass(frozen=True, slots=True)
class Late:
    """cycles: the numbers that fit, the most first; (0,) for a visit without cycles that fits as a whole.

    until: when the room, the person or the light that keeps more out is not there any longer.
    """

    booking: Booking
    here_at: datetime
    late_minutes: int
    cycles: Sequence[int]
    until: datetime | None
    resource: Resource | None

    @property
    def most(self) -> int | None:
        return self.cycles[0] if self.cycles else None

    @property
    def all_fit(self) -> bool:
        return self.most == self.booking.agreed_cycles


def wanted_late(booking: Booking, *, here_at: datetime, cycles: int, now: datetime) -> Wanted:
    """The visit with the same start, the same people and things, and the patient seated at here_at."""
    held = dict(booking.claims.filter(active=True).values_list("need", "resource_id"))
    wanted = Wanted(
        booking.visit_type,
        cycles,
        booking.light_kind,
        without_booking=booking.pk,
        only=held,
        now=now,
        cycle_minutes=booking.cycle_minutes,
    )
    seat = booking.starts_at + timedelta(minutes=lead(visit_shape(wanted), seated=SEATED))
    return replace(wanted, late_minutes=max(to_minute_up(max(here_at, now)) - to_minute(seat), 0))


def what_fits(booking: Booking, *, here_at: datetime, now: datetime) -> Late:
    """A number of queries that grows with the cycles of the visit only."""
    here_at = max(here_at, now)
    longest = wanted_late(booking, here_at=here_at, cycles=booking.agreed_cycles, now=now)
    look = Search(site=booking.site, wanted=longest, day=booking.wall_on)
    shapes = {count: visit_shape(replace(longest, cycles=count)) for count in _counts(booking)}
    start = to_minute(booking.starts_at)
    fits = which_fit(shapes, start=start, candidates=look.ids, free=look.free((start, start + 1)))
    return Late(booking, here_at, longest.late_minutes, fits.cycles, *_in_words(fits.bound, look))


def _counts(booking: Booking) -> Sequence[int]:
    return range(1, booking.agreed_cycles + 1) if booking.agreed_cycles else (0,)


def _in_words(bound: Bound | None, look: Search) -> tuple[datetime | None, Resource | None]:
    return (None, None) if bound is None else (to_instant(bound.until), look.resources[bound.candidate])
