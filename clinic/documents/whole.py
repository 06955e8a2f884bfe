"""Words that the layout has no place for end the job: they would be missing from the sheet, and nobody would see it."""

from typing import Any

from lxml import html

from clinic.documents.refusing import Unprintable

# Drawn as a line or a box to write in, whatever is in them.
_ROOM = {"box", "gap"}
# They begin with a picture, and the rest stands beside it.
_BESIDE = {"link", "ladder-beside"}


def refuse_loose_words(holder: html.HtmlElement) -> None:
    """Between the rows of a table or the items of a list."""
    if any(text and text.strip() for text in (holder.text, *(child.tail for child in holder))):
        raise Unprintable("incomplete")


def refuse_beside_body(root: html.HtmlElement) -> None:
    """A page that was closed too early goes on behind its end."""
    if [child.tag for child in root] not in (["body"], ["head", "body"]) or (root.body.tail or "").strip():
        raise Unprintable("incomplete")


def refuse_undrawn(node: dict[str, Any]) -> None:
    """What a class draws in the place of words, and words beside those that it draws."""
    classes, kids = set(node["c"]), _filled(node.get("k", []))
    if node["t"] == "p":
        lost = kids if "write" in classes else _of_boxes(kids) if "boxes" in classes else []
    elif node["t"] in {"div", "section", "article"}:
        lost = [] if not _BESIDE & classes or _is_picture(kids[:1]) else kids
    else:
        lost = kids if _ROOM & classes else []
    if lost:
        raise Unprintable("incomplete")


def _filled(kids: list[Any]) -> list[Any]:
    return [kid for kid in kids if not isinstance(kid, str) or kid.strip()]


def _of_boxes(kids: list[Any]) -> list[Any]:
    return [kid for kid in kids if isinstance(kid, str)]


def _is_picture(first: list[Any]) -> bool:
    inside = _filled(first[0]["k"]) if first and isinstance(first[0], dict) and first[0]["t"] == "bare" else []
    return [kid["t"] if isinstance(kid, dict) else "" for kid in inside] == ["picture"]
