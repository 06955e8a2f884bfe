"""What somebody wants to see of Follow-ups, as its address says it. What makes no sense there asks for everything."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from urllib.parse import urlencode

from whitening.recall.models import FollowUpKind, SavedView
from whitening.recall.worklist import MYSELF, NOBODY, Other, Section, Wanted

KINDS = [*FollowUpKind.choices, *Other.choices]
_NAMES = {"text": "q", "kind": "kind", "owner": "owner", "section": "section", "page": "page"}
# So many digits has no key.
_DIGITS, _PAGES = 9, 6


def read(said: Mapping[str, str]) -> Wanted:
    kind, section, owner = said.get("kind", ""), said.get("section", ""), said.get("owner", "")
    is_known = owner in {NOBODY, MYSELF} or _is_number(owner, _DIGITS)
    page = said.get("page", "")
    return Wanted(
        text=said.get("q", "").replace("\x00", "").strip()[:100],
        kind=kind if kind in dict(KINDS) else "",
        owner=owner if is_known else "",
        section=section if section in Section.values else "",
        page=max(1, int(page)) if _is_number(page, _PAGES) else 1,
    )


def query(wanted: Wanted, **changed: object) -> str:
    """For an address; only what differs from everything."""
    values = asdict(replace(wanted, **changed))  # type: ignore[arg-type]
    blank = asdict(Wanted())
    return urlencode({_NAMES[name]: value for name, value in values.items() if value != blank[name]})


def of_view(view: SavedView) -> Wanted:
    return read({"kind": view.kind, "owner": view.owner, "section": view.section})


def _is_number(text: str, digits: int) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= digits
