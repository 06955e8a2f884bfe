"""What a patient does with a visit by private link: through the desk's own actions, within the practice's rules."""

from datetime import datetime

from django.db import transaction

from clinic.diary import own_changes
from clinic.diary.actions import life
from clinic.diary.actions.booking import move
from clinic.diary.actions.placing import one_at_a_time
from clinic.diary.actions.stepping import note, step
from clinic.diary.models import Booking, OwnAct, Status
from clinic.diary.refusals import CallUs, OutsideOpeningHours
from clinic.diary.selfservice.reading import moving_range, offer_of
from clinic.messages import links
from clinic.messages.models import Ended
from clinic.trail.actor import Actor

# The private link's purpose, as clinic.diary.kinds registers it.
VISIT_LINK = "visit"


def keep_visit(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """The patient says that they come. Said twice, it stands once. Raises CallUs or NotPossibleNow."""
    if booking.status == Status.BOOKED and booking.accepted_at is not None:
        return booking
    if not offer_of(booking, now=now).keep:
        raise CallUs
    with transaction.atomic():
        booking = step(booking, {Status.BOOKED}, Status.BOOKED, {"accepted_at": now})
        note("diary.accepted", booking, actor)
        own_changes.note(OwnAct.KEPT, booking, actor=actor, now=now)
    return booking


def move_visit(*, booking: Booking, start_at: datetime, actor: Actor, now: datetime) -> Booking:
    """Raises CallUs where only the practice moves it now, and what `move` raises."""
    with one_at_a_time(booking.patient):
        if not offer_of(booking, now=now).move:
            raise CallUs
        earliest_at, latest_at = moving_range(booking, now=now)
        if start_at == booking.starts_at or not earliest_at <= start_at < latest_at:
            raise OutsideOpeningHours
        return move(booking=booking, start_at=start_at, actor=actor, now=now)


def cancel_visit(*, booking: Booking, why: str, actor: Actor, now: datetime) -> Booking:
    """Its page is done with it: the links to it end. Raises CallUs or NotPossibleNow."""
    if not offer_of(booking, now=now).cancel:
        raise CallUs
    with transaction.atomic():
        booking = life.cancel(booking=booking, by="patient", reason="", why=why, actor=actor, now=now)
        own_changes.note(OwnAct.CANCELLED, booking, actor=actor, now=now)
        links.end(purpose=VISIT_LINK, subject_id=booking.pk, now=now, actor=actor, because=Ended.DONE)
    return booking
