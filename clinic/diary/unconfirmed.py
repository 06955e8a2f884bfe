"""Firm visits that nobody has heard of: the desk calls before they come."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from clinic.accounts.models import Site
from clinic.diary.models import Booking, Status

SHOWN = 20


def not_confirmed(site: Site, *, until_on: date, now: datetime) -> Sequence[Booking]:
    """Firm visits of the coming days of which the patient has not said that they come: somebody calls them.

    Nobody calls about somebody who died.
    """
    tomorrow = now.astimezone(site.zone).date() + timedelta(days=1)
    rows = Booking.objects.filter(site=site, status=Status.BOOKED, accepted_at=None, patient__died_on=None)
    rows = rows.filter(wall_on__gte=tomorrow, wall_on__lte=until_on)
    return list(rows.select_related("patient", "visit_type", "site").order_by("starts_at", "pk")[:SHOWN])
