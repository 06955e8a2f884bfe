"""What every page with free times shows: the times, why there are none sooner, and sooner ones without a wish."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.http import HttpRequest, QueryDict

from clinic.accounts.models import Site
from clinic.diary.alternatives import Alternative, alternatives
from clinic.diary.openings import Openings, Wanted, find_days


@dataclass(frozen=True, slots=True)
class Found:
    openings: Openings
    alternatives: Sequence[Alternative]


def look_for(*, site: Site, wanted: Wanted, earliest_at: datetime, latest_at: datetime) -> Found:
    found = find_days(site=site, wanted=wanted, earliest_at=earliest_at, latest_at=latest_at)
    sooner = alternatives(site=site, wanted=wanted, earliest_at=earliest_at, latest_at=latest_at, found=found)
    return Found(found, sooner)


def asked_for(request: HttpRequest, *, from_on: date) -> QueryDict:
    """The address's own wishes for a form that is filled in already; an empty field counts as not asked."""
    asked = request.GET.copy()
    for name, values in list(asked.lists()):
        if not any(values):
            del asked[name]
    asked.setdefault("from_on", from_on.isoformat())
    return asked
