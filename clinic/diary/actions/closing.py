"""Leave, training, rooms out of use, closed days. Whoever closes sees first which visits are booked inside."""

from collections.abc import Collection, Sequence
from datetime import datetime

from django.db import transaction

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from clinic.diary.locks import lock_resources
from clinic.diary.models import Closure
from clinic.diary.outside import closed_by, hit_by, read_hours, unknown_to
from clinic.diary.refusals import AlreadyOver, VisitsOutside
from clinic.diary.waitlist import freed
from clinic.trail.actor import Actor
from clinic.trail.record import record


def close(
    *,
    site: Site,
    closures: Sequence[Closure],
    user: User,
    actor: Actor,
    now: datetime,
    agreed: Collection[int] = (),
) -> None:
    """Keeps these new closures. Visits booked inside stay where they are, and stand on Today until they are moved.

    agreed: the bookings that were shown as lying inside. Raises VisitsOutside for any other; AlreadyOver.
    """
    require(user, Capability.SETUP, site)
    if any(one.ends_at <= now for one in closures):
        raise AlreadyOver
    with transaction.atomic():
        lock_resources(site)
        before = read_hours(site, now=now)
        after = before.but(closed=[closed_by(one) for one in closures])
        visits = hit_by(before=before, after=after, now=now)
        if unknown_to(agreed, visits):
            raise VisitsOutside(visits)
        for one in closures:
            one.site = site
            one.save(force_insert=True)
            inside = [visit.booking for visit in visits if visit.booking.starts_at < one.ends_at]
            hit = [booking.pk for booking in inside if booking.ends_at > one.starts_at]
            _record("diary.closed", one, actor, {"visits": hit} if hit else {})


def take_back(*, closure: Closure, user: User, actor: Actor, now: datetime) -> None:
    """Opens it again: one that has begun ends now, so that the past keeps what was. Raises AlreadyOver."""
    require(user, Capability.SETUP, closure.site)
    with transaction.atomic():
        held = Closure.objects.select_for_update(of=("self",)).coming(now).filter(pk=closure.pk).first()
        if held is None:
            raise AlreadyOver
        _record("diary.closure_taken_back", held, actor, {})
        freed.stretch_gone(site_id=held.site_id, starts_at=held.starts_at, ends_at=held.ends_at, now=now)
        if held.starts_at < now:
            held.ends_at = now
            held.save(update_fields=["ends_at"])
        else:
            held.delete()


def _record(verb: str, closure: Closure, actor: Actor, more: dict[str, object]) -> None:
    # Not the reason: it may speak of somebody's health, and the trail never forgets.
    values = {
        "kind": closure.kind,
        "resource": closure.resource_id,
        "from": closure.starts_at.isoformat(),
        "until": closure.ends_at.isoformat(),
    }
    subject = ("closure", closure.pk)
    record(verb=verb, actor=actor, subject=subject, patient_id=None, site_id=closure.site_id, values=values | more)
