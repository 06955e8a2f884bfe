"""What is meant for one page is kept on one, unless it might be taller than a page: then it may be cut.

Heights are guessed from above, in lines of running text: wide letters, narrow columns, the smaller paper. To have
them measured while the page is laid out would cost a third of the whole drawing, for every sheet.
"""

from math import ceil
from typing import Any

KEPT = {"together", "element", "question", "cautions", "genuine", "link", "ladder-beside", "call", "signatures"}
# In normal and in large print: letters that surely fit in a line, and lines that surely fit on a page.
_LETTERS, _LINES = {False: 60, True: 50}, {False: 36, True: 27}
_BETWEEN, _HEADING, _LADDER = 0.8, 2.5, 24
# A line of running text is no lower than this.
_POINTS = 15
# A row with room for a pen, and one with room for a signature.
_TO_WRITE, _TO_SIGN = 0.6, 1.8
# Beside each other, the cells of a row have this part of the width at the least.
_NARROWEST = 0.2


def may_be_cut(node: dict[str, Any], *, large: bool) -> bool:
    return bool(KEPT.intersection(node["c"])) and _lines(node, _LETTERS[large]) > _LINES[large]


def _lines(node: Any, letters: float) -> float:
    if isinstance(node, str):
        return ceil(len(node) / letters)
    if node["t"] == "picture":
        return _LADDER if "ladder" in node["c"] else ceil(node["height"] / _POINTS)
    if node["t"] == "table":
        empty = _TO_SIGN if "signatures" in node["c"] else _TO_WRITE
        return 2 * _HEADING + sum(_row(row, letters, empty) for row in [*node["head"], *node["body"]])
    if node["t"] in {"div", "section", "article", "main", "ul", "ol"}:
        return _HEADING + sum(_lines(kid, letters) for kid in node["k"])
    return _running(node["k"], letters) + (_HEADING if node["t"].startswith("h") else _BETWEEN)


def _row(row: list[dict[str, Any]], letters: float, empty: float) -> float:
    part = max(_NARROWEST, 1 / len(row)) if len(row) > 1 else 1
    return max((_running(cell["k"], letters * part) or empty for cell in row), default=0) + _BETWEEN


def _running(kids: list[Any], letters: float) -> float:
    """Words in a line are set one after the other; what is a block among them stands below them."""
    length, breaks, blocks = 0, 0, 0.0
    waiting = list(kids)
    while waiting:
        kid = waiting.pop()
        if isinstance(kid, str):
            length += len(kid)
        elif kid["t"] in {"p", "bare", "ul", "ol", "li", "div", "section", "table", "picture"}:
            blocks += _lines(kid, letters)
        else:
            breaks += kid["t"] == "br"
            waiting.extend(kid["k"])
    return blocks + (ceil(length / letters) + breaks if length or breaks else 0)
