"""Somebody stands at the desk without a visit: a time that begins now, booked and noted as here in one deed."""

from datetime import datetime, timedelta

from django.db import transaction

from clinic.accounts.models import Site
from clinic.diary.actions.booking import BookingRequest, book
from clinic.diary.actions.stepping import note, step
from clinic.diary.models import Booking, Status
from clinic.diary.refusals import TooLongToWait
from clinic.trail.actor import Actor

# Whoever stands here waits an hour at most; a later time is booked like any other (common practice, no source).
WAIT_AT_MOST = timedelta(hours=1)


def walk_in(*, site: Site, request: BookingRequest, actor: Actor, now: datetime) -> Booking:
    """Nothing is sent: the patient stands here. Raises TooLongToWait and what `book` raises."""
    if request.start_at - now > WAIT_AT_MOST:
        raise TooLongToWait
    with transaction.atomic():
        booking = book(site=site, request=request, actor=actor, now=now, tell=False)
        booking = step(booking, {Status.BOOKED}, Status.ARRIVED, {"arrived_at": now})
        note("diary.walked_in", booking, actor)
    return booking
