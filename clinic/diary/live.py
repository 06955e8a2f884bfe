"""The version of what a diary page shows: one short query, asked every other second by every open page.

A page that still has this version is answered 304. The version ends with the minute: the line of now, the gate
marks of other rooms, names and hours are brought once a minute, without a word that anything had changed.
"""

import hashlib
from collections.abc import Iterable
from datetime import datetime

from django.db.models import QuerySet

from clinic.accounts.models import Site
from clinic.diary.models import Booking


def tag_of(site: Site, bookings: Iterable[Booking], *, now: datetime) -> str:
    """Of a page that has read its bookings."""
    return _tag(site, ((one.pk, one.version) for one in bookings), now)


def tag_now(site: Site, bookings: QuerySet[Booking], *, now: datetime) -> str:
    """Of what the page would show now, without reading it."""
    return _tag(site, bookings.values_list("pk", "version"), now)


def tag_with(site: Site, versions: Iterable[tuple[int, int]], *, now: datetime) -> str:
    """Of a page that shows more than bookings."""
    return _tag(site, versions, now)


def _tag(site: Site, versions: Iterable[tuple[int, int]], now: datetime) -> str:
    """Every change of a booking raises its version; one that comes, goes or runs out changes the list."""
    digest = hashlib.sha256(repr((site.pk, sorted(versions))).encode()).hexdigest()[:20]
    return f"{digest}.{int(now.timestamp()) // 60}"
