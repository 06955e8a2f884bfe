"""Papers that can be had in large print afterwards: who knows how to draw such a one again says so here.

What was signed is not among them: its bytes are evidence, and the size of its letters is chosen at signing.
"""

from collections.abc import Callable
from datetime import datetime

from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor

# Draws and files the same paper in large print; raises RenderFailed, or a refusal of its own.
Maker = Callable[[IssuedDocument, Actor, datetime], IssuedDocument]
# Whether it can still be drawn anew: what it leads to may be over.
Possible = Callable[[IssuedDocument, datetime], bool]
_makers: dict[str, tuple[Maker, Possible | None]] = {}


def register(kind: str, maker: Maker, *, possible: Possible | None = None) -> None:
    _makers[kind] = (maker, possible)


def is_small_one(document: IssuedDocument) -> bool:
    return document.kind in _makers and not document.large_print


def can(document: IssuedDocument, *, now: datetime) -> bool:
    """Asked before it is offered; a press that comes later is told by the maker's own refusal."""
    if not is_small_one(document):
        return False
    _maker, possible = _makers[document.kind]
    return possible is None or possible(document, now)


def make(document: IssuedDocument, *, actor: Actor, now: datetime) -> IssuedDocument:
    maker, _possible = _makers[document.kind]
    return maker(document, actor, now)
