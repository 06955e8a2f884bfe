"""A table as the layout takes it: caption, head, rows of cells, and how wide each column shall be."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from lxml import html

from clinic.documents.refusing import Unprintable

if TYPE_CHECKING:
    from clinic.documents.reading import Reader

_MOST_COLUMNS, _MOST_CELLS = 12, 12_000
# About as many letters stand beside each other on a page; what a column wants is measured in the same.
_LINE, _COLUMN = 92, 40
_PAD = 2
# A row is kept on one page unless its words might fill one.
_WHOLE = 1_200
_SCOPES = {"row": "row", "col": "column", "": ""}
Cell = dict[str, Any]


def read(reader: "Reader", table: html.HtmlElement, depth: int) -> dict[str, Any]:
    """Raises Unprintable for a table that is too wide, too long or not made of rows."""
    caption: list[Any] = []
    head: list[list[Cell]] = []
    body: list[list[Cell]] = []
    cells = 0
    for part in table:
        if part.tag == "caption":
            caption = reader.run(part, depth + 1)
            continue
        for row in _rows(part):
            read_row = _row(reader, row, depth + 1)
            cells += len(read_row)
            if cells > _MOST_CELLS:
                raise Unprintable("pages")
            (head if part.tag == "thead" else body).append(read_row)
    columns = max((sum(cell["span"] for cell in row) for row in [*head, *body]), default=0)
    if not 1 <= columns <= _MOST_COLUMNS:
        raise Unprintable("incomplete")
    wanted = [cell.pop("wants") for row in [*head, *body] for cell in row]
    return {"k": [], "caption": caption, "head": head, "body": body} | {"shares": _shares(head, body, wanted, columns)}


def _rows(part: html.HtmlElement) -> Iterator[html.HtmlElement]:
    if part.tag == "tr":
        yield part
    elif part.tag in {"thead", "tbody", "tfoot"}:
        yield from part
    else:
        raise Unprintable("incomplete")


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
    lines = [line.split() for line in _lines(cell)]
    length = max((sum(map(len, words)) + len(words) for words in lines), default=0)
    word = max((len(word) for words in lines for word in words), default=0)
    node["wants"] = (word, length)
    return node | {"scope": scope, "letters": sum(len(word) + 1 for words in lines for word in words)}


def _lines(cell: html.HtmlElement) -> list[str]:
    pieces = [cell.text or ""]
    for inner in cell.iterdescendants():
        if inner.tag in {"br", "p", "li", "div"}:
            pieces.append("\n")
        pieces += [inner.text or "", inner.tail or ""]
    return "".join(pieces).split("\n") if pieces else []


def _shares(head: list[list[Cell]], body: list[list[Cell]], wanted: list[tuple[int, int]], columns: int) -> list[int]:
    """Each column has room for its longest word first; what is left goes to those whose lines are longer."""
    least, most = [1] * columns, [1] * columns
    widths = iter(wanted)
    for row in [*head, *body]:
        place = 0
        for cell in row:
            word, length = next(widths)
            if cell["span"] == 1:
                least[place] = max(least[place], word + _PAD)
                most[place] = max(most[place], min(length, _COLUMN) + _PAD)
            place += cell["span"]
    most = [max(pair) for pair in zip(least, most, strict=True)]
    if sum(most) <= _LINE or sum(least) >= _LINE:
        return most if sum(most) <= _LINE else least
    part = (_LINE - sum(least)) / (sum(most) - sum(least))
    return [round(low + (high - low) * part) for low, high in zip(least, most, strict=True)]
