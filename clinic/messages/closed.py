"""Public holidays where a site is, from the holidays library."""

from datetime import date
from functools import lru_cache

from clinic.accounts.models import Site


def closed_days(site: Site, year: int) -> frozenset[date]:
    """Of that year and the next, so that a search from December runs on into January."""
    return _days(site.country, site.region, year) | _days(site.country, site.region, year + 1)


@lru_cache(maxsize=64)
def _days(country: str, region: str, year: int) -> frozenset[date]:
    import holidays  # noqa: PLC0415  (its calendars take long to load, and most requests need none)

    supported = holidays.list_supported_countries(include_aliases=True)
    if country not in supported:
        # Not known is not closed: a message that goes out on a holiday does less harm than none.
        return frozenset()
    subdivision = region if region in supported[country] else None
    return frozenset(holidays.country_holidays(country, subdiv=subdivision, years=year))
