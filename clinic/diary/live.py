"""The version of what a diary page shows: one short query, asked every other second by every open page.

A page that still has this version is answered 304. Its first part is what desks do with visits. Behind the point
stands what changes in silence: whatever else is recorded about these patients, such as a consent that is withdrawn,
for it may change a gate mark; and the minute, with which the line of now, names and hours come.
"""

import hashlib
from collections.abc import Iterable
from datetime import datetime

from django.db.models import OuterRef, QuerySet, Subquery

from clinic.accounts.models import Site
from clinic.diary.models import Booking
from clinic.trail.models import TrailEntry


def tag_now(site: Site, bookings: QuerySet[Booking], *, now: datetime, also: Iterable[tuple[int, int]] = ()) -> str:
    """Of what the page would show now, without reading it: to be asked before the page is read.

    Every change of a booking raises its version; one that comes, goes or runs out changes the list.
    also: keys and versions of what a page shows besides, with keys that no booking has.
    """
    newest = TrailEntry.objects.filter(patient_id=OuterRef("patient_id")).order_by("-pk").values("pk")[:1]
    rows = list(bookings.annotate(newest=Subquery(newest)).values_list("pk", "version", "newest"))
    versions = sorted([*((pk, version) for pk, version, _newest in rows), *also])
    recorded = sorted((pk, newest) for pk, _version, newest in rows)
    return f"{_digest(site.pk, versions)}.{_digest(recorded)}.{int(now.timestamp()) // 60}"


def _digest(*facts: object) -> str:
    return hashlib.sha256(repr(facts).encode()).hexdigest()[:20]
