"""Papers that can be had in large print afterwards: who knows how to draw such a one again says so here.

What was signed is not among them: its bytes are evidence, and the size of its letters is chosen at signing.
"""

from collections.abc import Callable
from datetime import datetime

from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor

# Draws and files the same paper in large print; raises RenderFailed, or a refusal of its own.
Maker = Callable[[IssuedDocument, Actor, datetime], IssuedDocument]
_makers: dict[str, Maker] = {}


def register(kind: str, maker: Maker) -> None:
    _makers[kind] = maker


def can(document: IssuedDocument) -> bool:
    return document.kind in _makers and not document.large_print


def make(document: IssuedDocument, *, actor: Actor, now: datetime) -> IssuedDocument:
    return _makers[document.kind](document, actor, now)
