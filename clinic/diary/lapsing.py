"""Pencilled times that lapse soon: the desk hears of them before the evening on which they do."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from clinic.accounts.models import Site
from clinic.diary.engine.working import instant
from clinic.diary.models import Booking, Status

SHOWN = 20


def lapsing_soon(site: Site, *, until_on: date, now: datetime, done: int | None = None) -> Sequence[Booking]:
    """The one that lapses first on top. done: a visit that somebody has just let go here; it can be taken back.

    Nobody calls about somebody who died: Today lists what stands of theirs apart.
    """
    until = instant(until_on + timedelta(days=1), time(0), site.zone)
    rows = Booking.objects.filter(site=site, starts_at__gt=now).select_related("patient", "visit_type", "site")
    soon = rows.filter(status=Status.PROPOSED, lapses_at__gt=now, lapses_at__lt=until, patient__died_on=None)
    found = list(soon.order_by("lapses_at", "pk")[:SHOWN])
    if done is not None:
        found += rows.filter(pk=done, status=Status.CANCELLED, status_from=Status.PROPOSED)
    return found
