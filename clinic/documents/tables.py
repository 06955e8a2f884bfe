"""A table as the layout takes it: caption, head, rows of cells, and how wide each column shall be."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from lxml import html

from clinic.documents.refusing import Unprintable
from clinic.documents.whole import refuse_loose_words

if TYPE_CHECKING:
    from clinic.documents.reading import Reader

_MOST_COLUMNS, _MOST_CELLS = 12, 12_000
# About as many letters stand beside each other on a page, in normal and in large print; what a column wants is
# measured in the same. Of words that head a column or a row, letters are wider.
_LINE, _COLUMN = {False: 92, True: 66}, 40
_PAD, _BOLD, _LONGEST = 2, 1.15, 20
# The first column of facts is no wider than this part, unless a word of it needs more.
_FACTS = 0.3
# A row is kept on one page unless its words might fill one.
_WHOLE = 1_200
_SCOPES = {"row": "row", "col": "column", "": ""}
Cell = dict[str, Any]


def read(reader: "Reader", table: html.HtmlElement, depth: int) -> dict[str, Any]:
    """Raises Unprintable for a table that is too wide, too long or not made of full rows."""
    refuse_loose_words(table)
    caption: list[Any] = []
    head: list[list[Cell]] = []
    body: list[list[Cell]] = []
    cells = 0
    for part in table:
        if part.tag == "caption":
            if caption:
                raise Unprintable("incomplete")
            caption = reader.run(part, depth + 1)
            continue
        for row in _rows(reader, part, depth):
            read_row = _row(reader, row, depth + 1)
            cells += len(read_row)
            if cells > _MOST_CELLS:
                raise Unprintable("pages")
            (head if part.tag == "thead" else body).append(read_row)
    columns = _columns([*head, *body])
    wanted = [cell.pop("wants") for row in [*head, *body] for cell in row]
    least, most = _wanted([*head, *body], wanted, columns)
    line = _LINE[reader.large]
    node = {"k": [], "caption": caption, "head": head, "body": body, "wide": least[0] > _FACTS * line}
    return node | {"shares": _shares(least, most, line)}


def _columns(rows: list[list[Cell]]) -> int:
    """A row that lacks a cell would take the first of the next row."""
    counts: set[int] = {sum(cell["span"] for cell in row) for row in rows}
    if len(counts) != 1 or not counts <= set(range(1, _MOST_COLUMNS + 1)):
        raise Unprintable("incomplete")
    return counts.pop()


def _rows(reader: "Reader", part: html.HtmlElement, depth: int) -> Iterator[html.HtmlElement]:
    rows = [part] if part.tag == "tr" else list(part)
    if part.tag not in {"tr", "thead", "tbody", "tfoot"} or any(row.tag != "tr" for row in rows):
        raise Unprintable("incomplete")
    for holder in {part, *rows}:
        # It is asked for what it refuses: hidden rows would be drawn.
        reader._node(holder, depth)
        refuse_loose_words(holder)
    yield from rows


def _row(reader: "Reader", row: html.HtmlElement, depth: int) -> list[Cell]:
    read_row = [_cell(reader, cell, depth + 1) for cell in row]
    # One cell that may not be cut holds the whole row together.
    if max((cell.pop("letters") for cell in read_row), default=0) > _WHOLE:
        for cell in read_row:
            cell["c"].append("long")
    return read_row


def _cell(reader: "Reader", cell: html.HtmlElement, depth: int) -> Cell:
    scope, span = _SCOPES.get(cell.get("scope", "")), cell.get("colspan", "1")
    if cell.tag not in {"td", "th"} or scope is None or span not in {str(n) for n in range(1, _MOST_COLUMNS + 1)}:
        raise Unprintable("incomplete")
    node = reader._node(cell, depth) | {"k": reader.contents(cell, depth), "span": int(span)}
    lines = [line.replace("-", "- ").split() for line in _lines(cell)]
    length = max((sum(map(len, words)) + len(words) for words in lines), default=0)
    word = max((len(word) for words in lines for word in words), default=0)
    wider = _BOLD if cell.tag == "th" else 1
    # The head of a column may well stand in two lines: what is below it decides.
    node["wants"] = (round(word * wider), round((word if scope == "column" else length) * wider))
    return node | {"scope": scope, "letters": sum(len(word) + 1 for words in lines for word in words)}


def _lines(cell: html.HtmlElement) -> list[str]:
    pieces = [_unbroken(cell, cell.text)]
    for inner in cell.iterdescendants():
        if inner.tag in {"br", "p", "li", "div"}:
            pieces.append("\n")
        pieces += [_unbroken(inner, inner.text), inner.tail or ""]
    return "".join(pieces).split("\n")


def _unbroken(element: html.HtmlElement, text: str | None) -> str:
    """A number counts as one word: a telephone number or a span of time stands in one line."""
    is_number = "number" in element.get("class", "").split()
    return "0".join((text or "").split()) if is_number else text or ""


def _wanted(rows: list[list[Cell]], wanted: list[tuple[int, int]], columns: int) -> tuple[list[int], list[int]]:
    """Of each column, the room for its longest word and for its longest line."""
    least, most = [1] * columns, [1] * columns
    widths = iter(wanted)
    for row in rows:
        place = 0
        for cell in row:
            word, length = next(widths)
            if cell["span"] == 1:
                least[place] = max(least[place], word + _PAD)
                most[place] = max(most[place], min(length, _COLUMN) + _PAD)
            place += cell["span"]
    return least, [max(pair) for pair in zip(least, most, strict=True)]


def _shares(least: list[int], most: list[int], line: int) -> list[int]:
    """Each column has room for its longest word first; what is left goes to those whose lines are longer."""
    if sum(most) <= line:
        return most
    if sum(least) >= line:
        # No column starves for a word that is longer than any should be: that one is broken.
        return [min(low, _LONGEST) for low in least]
    part = (line - sum(least)) / (sum(most) - sum(least))
    return [round(low + (high - low) * part) for low, high in zip(least, most, strict=True)]
