"""What patients changed themselves by link: noted with the change, shown on Today until somebody has seen it."""

from collections.abc import Collection, Sequence
from datetime import datetime

from django.db import transaction

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from clinic.diary.models import Booking, OwnAct, OwnChange
from clinic.trail.actor import Actor
from clinic.trail.record import record

# Of more nobody reads on; the newest come first, and each that is seen makes room for the next.
SHOWN = 20


def note(act: OwnAct, booking: Booking, *, actor: Actor, now: datetime, was_at: datetime | None = None) -> None:
    """In the transaction of the change. What the desk does for a patient is no news to the desk."""
    if actor.kind == "patient":
        OwnChange.objects.create(site=booking.site, booking=booking, act=act, at=now, was_at=was_at)


def unseen(site: Site) -> Sequence[OwnChange]:
    """One query. Nothing drops out by its age: over a weekend nobody looks."""
    rows = OwnChange.objects.unseen(site).select_related("booking__patient", "booking__visit_type", "booking__site")
    return list(rows.order_by("-at", "-pk")[:SHOWN])


def see(*, site: Site, ids: Collection[int], user: User, actor: Actor, now: datetime) -> int:
    """How many this press has settled: of two desks one has seen it first."""
    require(user, Capability.DIARY_BOOK, site)
    with transaction.atomic():
        rows = OwnChange.objects.unseen(site).filter(pk__in=ids).select_related("booking").order_by("pk")
        seen = list(rows.select_for_update(no_key=True, of=("self",)))
        OwnChange.objects.filter(pk__in=[one.pk for one in seen]).update(seen_at=now, seen_by=actor.name)
        for one in seen:
            record(
                verb="diary.own_change_seen",
                actor=actor,
                subject=("booking", one.booking_id),
                patient_id=one.booking.patient_id,
                site_id=site.pk,
                values={"act": one.act},
            )
    return len(seen)
