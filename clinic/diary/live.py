"""The version of what a diary page shows: one short query, asked every other second by every open page.

A page that still has this version is answered 304. The version ends with the minute: the line of now, the gate
marks of other rooms, names and hours are brought once a minute, without a word that anything had changed.
"""

import hashlib
from datetime import datetime

from clinic.accounts.models import Site
from clinic.diary.models import Booking


def tag_of(site: Site, start_at: datetime, end_at: datetime, *, now: datetime) -> str:
    """Every change of a booking raises its version; cancelled ones count, so that their going is a change."""
    rows = Booking.objects.filter(site=site).between(start_at, end_at).order_by("pk").values_list("pk", "version")
    digest = hashlib.sha256(repr((site.pk, list(rows))).encode()).hexdigest()[:20]
    return f"{digest}.{int(now.timestamp()) // 60}"
