"""Times that were held together are booked together, or let go together: all of them or none."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from clinic.diary.actions import book_held, let_go
from clinic.diary.models import Booking
from clinic.trail.actor import Actor


def book_all_held(*, bookings: Sequence[Booking], actor: Actor, now: datetime) -> list[Booking]:
    """The patient said yes to all of it. Raises what `book_held` raises for any of them, and then none is booked."""
    with transaction.atomic():
        return [book_held(booking=one, actor=actor, now=now) for one in _in_order(bookings)]


def let_all_go(*, bookings: Sequence[Booking], actor: Actor, now: datetime) -> list[Booking]:
    with transaction.atomic():
        return [let_go(booking=one, actor=actor, now=now) for one in _in_order(bookings)]


def _in_order(bookings: Sequence[Booking]) -> list[Booking]:
    """By time: what hangs on an earlier visit is settled after it. Two desks that press at once meet at the first."""
    return sorted(bookings, key=lambda one: (one.starts_at, one.pk))
