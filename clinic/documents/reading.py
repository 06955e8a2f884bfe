"""A sheet's page becomes plain data: which words, in which kind of paragraph, list or table.

What the layout does not know ends the job: a sheet with a hole is worse than none. Text is never more than text.
"""

import re
import unicodedata
from collections.abc import Iterator
from typing import Any

from lxml import etree, html

from clinic.documents import keeping, pictures, tables, whole
from clinic.documents.refusing import Unprintable

Node = dict[str, Any] | str
_INLINE = {"a", "b", "bdi", "em", "i", "span", "strong", "time", "br"}
_PICTURES = {"img", "svg"}
_BLOCKS = {"main", "div", "section", "article", "p", "h1", "h2", "h3", "ul", "ol", "li", "table"}
_SHEET_PARTS = {"new-page", "letter"}
_ALLOWED = {"class", "dir", "lang", "id", "role", "translate", "aria-label", "href", "src", "alt", "value", "start"}
_ALLOWED |= {"scope", "colspan", "datetime", "data-patient"}
_DEEPEST = 24
_SPACE = re.compile(r"[ \t\n\r\f]+")
_ADDRESS = re.compile(r"(https?://|mailto:|tel:)[^\s]+")
# A word that is longer than a column may be broken after so many letters. Addresses and fingerprints are no words.
_ENDLESS, _PIECE = re.compile(r"\w{30,}"), 10
_UNKNOWN = "\N{REPLACEMENT CHARACTER}"
# Breaks that nobody sees, and orders to turn the direction of whatever follows: a name may not do that to a sheet.
_FORMATTING = {ord(mark): None for mark in "\u00ad\u2060\ufeff\u202a\u202b\u202c\u202d\u202e"}

_ISOLATES = {"ltr": "\u2066", "rtl": "\u2067", "end": "\u2069"}
_BOXED = {"number", "code"}


def parsed(page: str) -> html.HtmlElement:
    """Raises Unprintable where the page's own parser gave up, and so left something out."""
    parser = html.HTMLParser(no_network=True, remove_comments=True, remove_pis=True, huge_tree=False)
    try:
        root = html.document_fromstring(page, parser=parser)
    except etree.ParserError as error:
        raise Unprintable("incomplete") from error
    if parser.error_log.filter_from_fatals():
        raise Unprintable("nesting")
    whole.refuse_beside_body(root)
    return root


class Reader:
    """Reads one page. `undrawn` holds afterwards what no bundled font can draw."""

    def __init__(self, drawable: set[str], *, large: bool = False) -> None:
        self.drawable = drawable
        self.large = large
        self.undrawn: set[str] = set()

    def words(self, text: str) -> str:
        """As they can be drawn: a replacement mark where they cannot, nothing for what is invisible anyway."""
        strange = set(text) - self.drawable
        if strange:
            nothing = {mark for mark in strange if unicodedata.category(mark) in {"Cc", "Cf", "Mn", "Me"}}
            self.undrawn |= strange - nothing
            text = text.translate({ord(mark): None if mark in nothing else _UNKNOWN for mark in strange})
        return text.translate(_FORMATTING)

    def blocks(self, holder: html.HtmlElement, depth: int = 0) -> list[Node]:
        """What stands in a container: its blocks, and a bare paragraph around each run of loose words."""
        read: list[Node] = []
        loose: list[Node] = [*_broken(self._text(holder.text))]
        for child in holder:
            if child.tag in _BLOCKS:
                read += [*_paragraph(loose), self._block(child, depth + 1)]
                loose = []
            else:
                loose.append(self._inline(child, depth + 1))
            loose += _broken(self._text(child.tail))
        return [*read, *_paragraph(loose)]

    def run(self, holder: html.HtmlElement, depth: int) -> list[Node]:
        """The words of a line of text, with single spaces between them."""
        return _trimmed(list(self._loose(holder, depth)))

    def _loose(self, holder: html.HtmlElement, depth: int) -> Iterator[Node]:
        is_unbroken = holder.tag == "a" or "digest" in holder.get("class", "").split()
        for child in (None, *holder):
            if child is not None:
                yield self._inline(child, depth + 1)
            text = self._text(holder.text if child is None else child.tail)
            yield from [text] if is_unbroken else _broken(text)

    def _text(self, text: str | None) -> str:
        return self.words(_SPACE.sub(" ", text)) if text else ""

    def _block(self, element: html.HtmlElement, depth: int) -> Node:
        node = self._filled(element, depth)
        whole.refuse_undrawn(node)
        if keeping.may_be_cut(node, large=self.large):
            node["c"].append("long")
        return node

    def _filled(self, element: html.HtmlElement, depth: int) -> dict[str, Any]:
        node = self._node(element, depth)
        if element.tag == "table":
            # Which cell heads its row is told by counting cells, and a table in a cell would be counted first.
            if next(element.iterancestors("table"), None) is not None:
                raise Unprintable("incomplete")
            return node | tables.read(self, element, depth)
        if element.tag in {"p", "h1", "h2", "h3"}:
            return node | {"k": self.run(element, depth)}
        if element.tag in {"ul", "ol"}:
            whole.refuse_loose_words(element)
            items = [self._item(child, depth + 1) for child in element]
            return node | {"k": items, "start": _number(element.get("start", "1"))}
        if _SHEET_PARTS.intersection(node["c"]) and depth > 1:
            raise Unprintable("incomplete")
        if (patient := element.get("data-patient")) is not None:
            node["patient"] = self.words(patient)
        return node | {"k": self.blocks(element, depth)}

    def _item(self, element: html.HtmlElement, depth: int) -> Node:
        if element.tag != "li":
            raise Unprintable("incomplete")
        node = self._node(element, depth) | {"k": self.contents(element, depth)}
        return node | {"value": _number(element.get("value", "0"))}

    def contents(self, element: html.HtmlElement, depth: int) -> list[Node]:
        """Of an item or a cell, whose only paragraph is no paragraph of its own."""
        blocks = self.blocks(element, depth)
        if len(blocks) == 1 and isinstance(blocks[0], dict) and blocks[0]["t"] == "bare":
            kids: list[Node] = blocks[0]["k"]
            return kids
        return blocks

    def _inline(self, element: html.HtmlElement, depth: int) -> Node:
        node = self._node(element, depth)
        if element.tag in _PICTURES:
            return node | self._picture(element)
        if element.tag not in _INLINE:
            raise Unprintable("blocked")
        node["k"] = [kid for kid in self._loose(element, depth) if kid != ""]
        whole.refuse_undrawn(node)
        if element.tag == "a":
            node["href"] = _address(element.get("href", ""))
        if element.tag == "bdi":
            node.setdefault("dir", _first_direction(element.text_content()))
            node["k"] = _apart(element, node)
        return node

    def _node(self, element: html.HtmlElement, depth: int) -> dict[str, Any]:
        if depth > _DEEPEST:
            raise Unprintable("nesting")
        if not isinstance(element.tag, str):
            raise Unprintable("blocked")
        if element.tag != "svg" and not _ALLOWED.issuperset(element.attrib):
            raise Unprintable("blocked")
        node: dict[str, Any] = {"t": element.tag, "c": element.get("class", "").split()}
        return node | {name: element.get(name) for name in ("dir", "lang") if element.get(name)}

    def _picture(self, element: html.HtmlElement) -> dict[str, Any]:
        words = " ".join(element.get("alt" if element.tag == "img" else "aria-label", "").split())
        drawing = pictures.from_address(element.get("src", "")) if element.tag == "img" else element
        if not words:
            raise Unprintable("incomplete")
        svg, width, height = pictures.redrawn(drawing)
        return {"t": "picture", "alt": self.words(words), "svg": self.words(svg), "width": width, "height": height}


def parts(reader: Reader, body: html.HtmlElement, *, patient: str) -> list[dict[str, Any]]:
    """The sheet's content, cut where a new page has to begin for a part of its own."""
    cut: list[dict[str, Any]] = [{"patient": patient, "kind": "", "k": []}]
    main = body.find("main")
    if main is not None and (len(body) > 1 or (body.text or "").strip() or (main.tail or "").strip()):
        # It would be left out.
        raise Unprintable("incomplete")
    for node in reader.blocks(body if main is None else main):
        kind = next(iter(_SHEET_PARTS.intersection(_classes(node))), "")
        if kind and isinstance(node, dict):
            patient = node.get("patient", patient)
            cut.append({"patient": patient, "kind": kind, "k": []})
        cut[-1]["k"].append(node)
    return cut


def _classes(node: Node) -> list[str]:
    return node["c"] if isinstance(node, dict) else []


def _paragraph(loose: list[Node]) -> list[Node]:
    kids = _trimmed(loose)
    return [{"t": "bare", "c": [], "k": kids}] if kids else []


def _broken(text: str) -> list[Node]:
    """With places where an endless word may be broken, which are no letters of it."""
    pieces: list[Node] = []
    at = 0
    for match in _ENDLESS.finditer(text):
        for place in range(match.start() + _PIECE, match.end(), _PIECE):
            pieces += [text[at:place], {"t": "wbr", "c": [], "k": []}]
            at = place
    return [*pieces, text[at:]]


def _trimmed(kids: list[Node]) -> list[Node]:
    """Without space at either end of the line, and without a second space after a first."""
    _join(kids, {"space": True})
    return [kid for kid in kids if kid != ""]


def _join(kids: list[Node], state: dict[str, bool]) -> None:
    for place, kid in enumerate(kids):
        if isinstance(kid, str):
            shown = kid[1:] if state["space"] and kid.startswith(" ") else kid
            kids[place] = shown
            state["space"] = shown.endswith(" ") if shown else state["space"]
        elif kid["t"] == "br":
            state["space"] = True
        elif kid["t"] == "picture" or not kid["k"]:
            # A box to tick is no word, but the space after it is one.
            state["space"] = False
        else:
            _join(kid["k"], state)


def _number(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,4}", text):
        raise Unprintable("incomplete")
    return int(text)


def _address(address: str) -> str:
    if not _ADDRESS.fullmatch(address):
        raise Unprintable("incomplete")
    return address


def _apart(element: html.HtmlElement, node: dict[str, Any]) -> list[Node]:
    """The typesetter sets a direction and keeps nothing apart: a number behind an Arabic name would go before it.

    Marks that keep it apart are put in where two directions may meet; what stands in a box needs none.
    """
    kids: list[Node] = node["k"]
    around = next((outer.get("dir") for outer in element.iterancestors() if outer.get("dir")), "ltr")
    if not kids or _BOXED.intersection(node["c"]) or (around != "rtl" and not _has_right_to_left(element)):
        return kids
    # Set in a direction as well, the marks themselves would stand in it, and keep nothing apart.
    return [_ISOLATES["rtl" if node.pop("dir") == "rtl" else "ltr"], *kids, _ISOLATES["end"]]


def _has_right_to_left(element: html.HtmlElement) -> bool:
    return any(unicodedata.bidirectional(mark) in {"R", "AL"} for mark in element.text_content())


def _first_direction(text: str) -> str:
    kinds = (unicodedata.bidirectional(mark) for mark in text)
    first = next((kind for kind in kinds if kind in {"L", "R", "AL"}), "L")
    return "ltr" if first == "L" else "rtl"
