"""The list on one's own account: other parts of the product add a page that is about the person."""

from dataclasses import dataclass

from django.utils.functional import Promise


@dataclass(frozen=True, kw_only=True)
class OwnPage:
    code: str
    title: str | Promise
    # What the link says, as a verb.
    word: str | Promise
    url_name: str
    position: int = 50


_pages: dict[str, OwnPage] = {}


def register(page: OwnPage) -> None:
    if _pages.setdefault(page.code, page) != page:
        raise ValueError(f"The page {page.code!r} of one's own account is registered twice.")


def registered() -> list[OwnPage]:
    return sorted(_pages.values(), key=lambda page: (page.position, page.code))
