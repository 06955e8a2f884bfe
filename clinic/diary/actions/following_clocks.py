"""After a change of the clock rules: every agreed time on the clock is kept, and its moment follows."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction

from clinic.accounts.models import Site
from clinic.diary import clock_rules
from clinic.diary.actions.placing import is_conflict
from clinic.diary.locks import lock_resources
from clinic.diary.models import Booking, ResourceClaim
from clinic.diary.refusals import ClocksMeet
from clinic.trail.actor import Actor
from clinic.trail.record import record


def keep_clock_times(*, site: Site, actor: Actor, now: datetime) -> int:
    """Moves the moments of all those visits at once, so that none is in the way of another; says how many.

    Nobody is told: what the patients were told, the time on the clock, stands. Raises ClocksMeet, and nothing is
    changed, when a visit would meet one that stays.
    """
    with transaction.atomic():
        seen = {one.booking.pk for one in clock_rules.shifted_visits(site, now=now)}
        # First the visits and then what they claim, as whoever moves one locks them.
        list(Booking.objects.select_for_update(no_key=True).filter(pk__in=seen).order_by("pk"))
        lock_resources(site)
        # What was moved or cancelled while this waited lies right; what was booked anew does so from the beginning.
        shifted = [one for one in clock_rules.shifted_visits(site, now=now) if one.booking.pk in seen]
        bookings = [one.booking for one in shifted]
        claims = list(ResourceClaim.objects.filter(booking__in=bookings, active=True).order_by("pk"))
        ResourceClaim.objects.filter(pk__in=[one.pk for one in claims]).update(active=False)
        by = {one.booking.pk: one.starts_at - one.booking.starts_at for one in shifted}
        for booking in bookings:
            _follow(booking, by[booking.pk], actor)
        _claim_again(claims, by)
    return len(bookings)


def _follow(booking: Booking, by: timedelta, actor: Actor) -> None:
    booking.starts_at += by
    booking.ends_at += by
    # Calendar programs that fetch the visits see a new moment under the same time on the clock.
    booking.sequence += 1
    booking.version += 1
    booking.save(update_fields=["starts_at", "ends_at", "sequence", "version"])
    record(
        verb="diary.clock_followed",
        actor=actor,
        subject=("booking", booking.pk),
        patient_id=booking.patient_id,
        site_id=booking.site_id,
        values={"wall_on": booking.wall_on.isoformat(), "wall_time": booking.wall_time.isoformat("minutes")},
    )


def _claim_again(claims: Sequence[ResourceClaim], by: dict[int, timedelta]) -> None:
    for claim in claims:
        claim.start_at += by[claim.booking_id]
        claim.end_at += by[claim.booking_id]
        claim.active = True
    try:
        with transaction.atomic():
            ResourceClaim.objects.bulk_update(claims, ["start_at", "end_at", "active"], batch_size=200)
    except IntegrityError as error:
        if not is_conflict(error):
            raise
        raise ClocksMeet from error
