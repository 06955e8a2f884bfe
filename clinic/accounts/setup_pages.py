"""The list on Set-up: each part of the product adds its page and says what is still missing there."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.utils.functional import Promise

from clinic.accounts.models import Site

Missing = Callable[[Site], Sequence[str | Promise]]


@dataclass(frozen=True, kw_only=True)
class SetupPage:
    code: str
    title: str | Promise
    url_name: str
    # Sentences that say what is missing at this site, and what cannot be done until it is there.
    missing: Missing
    position: int = 50
    # The page's address takes the site's key.
    of_the_site: bool = False


_pages: dict[str, SetupPage] = {}


def register(page: SetupPage) -> None:
    if _pages.setdefault(page.code, page) != page:
        raise ValueError(f"The set-up page {page.code!r} is registered twice.")


def registered() -> list[SetupPage]:
    return sorted(_pages.values(), key=lambda page: (page.position, page.code))
