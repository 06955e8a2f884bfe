"""A visit put to another place of the diary page: another time, another room or another person."""

from datetime import datetime

from clinic.diary.actions.booking import move
from clinic.diary.models import Booking, Resource
from clinic.diary.refusals import ChangedMeanwhile, OutsideOpeningHours, SlotTaken
from clinic.trail.actor import Actor


def put(*, booking: Booking, start_at: datetime, of: int, to: Resource, actor: Actor, now: datetime) -> Booking:
    """Moves the visit out of one column of the diary into another, or to another time of the same one.

    Whoever and whatever else it had stays with it where that is free then; otherwise anybody suitable does.
    Raises what `move` raises; ChangedMeanwhile when it does not stand in the first column any more.
    """
    held = dict(booking.claims.filter(active=True).values_list("need", "resource_id"))
    only = {need: to.pk for need, resource_id in held.items() if resource_id == of}
    if not only:
        raise ChangedMeanwhile
    try:
        return move(booking=booking, start_at=start_at, actor=actor, now=now, only=held | only)
    except (SlotTaken, OutsideOpeningHours):
        return move(booking=booking, start_at=start_at, actor=actor, now=now, only=only)
