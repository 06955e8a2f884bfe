"""The free times on a patient's page, with what suits the patient and the way to later days."""

from datetime import datetime

from django.http import HttpRequest

from clinic.accounts.models import Site
from clinic.diary.openings import Wanted
from clinic.diary.selfservice.forms import SuitsForm
from clinic.diary.selfservice.offering import offering


def times(
    request: HttpRequest,
    *,
    site: Site,
    wanted: Wanted | None,
    between: tuple[datetime, datetime],
    but: datetime | None = None,
) -> dict[str, object]:
    """`later`: the address's own question, from the day after the last one shown; empty where nothing follows.
    `first`: the same question without a day, for whoever looks at later days; None for whoever does not.
    wanted: None where such a visit is not set up any more; then no time is free.
    """
    form = SuitsForm(request.GET)
    wishes = form.wishes()
    found = offering(site=site, wanted=wanted, between=between, wishes=wishes, from_on=form.first_on(), but=but)
    asked = request.GET.copy()
    if found.later_from is not None:
        asked["from_on"] = found.later_from.isoformat()
    later = asked.urlencode() if found.later_from is not None else ""
    asked.pop("from_on", None)
    first = asked.urlencode() if form.first_on() is not None else None
    return {
        "found": found,
        "form": form,
        "has_wishes": not wishes.any_time,
        "later": later,
        "first": first,
        "site": site,
    }
