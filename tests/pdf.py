"""A finished file, looked at by three: our own checks, a checker of PDF/UA-1, and its structure read by a third.

pdfua 0.1.3 covers 16 of 106 machine-checkable points of ISO 14289-1: it can find faults and proves no conformity.
"""

import re
import tempfile
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pdfua
import pikepdf
from pikepdf import Array, Dictionary, Name

from clinic.documents import checking

# A claim of conformity that no validator confirmed is made nowhere, and this point asks for the claim.
_CLAIM = "UA-28-004"
# It fails by its own fault wherever an attribute is an array; our own checks read the headings.
_CANNOT = {"UA-14-001"}
_SUBSET = re.compile(r"/[A-Z]{6}\+.+")


def findings(pdf: bytes) -> list[str]:
    """Empty for a sound file."""
    return [*(f"{one.point}: {one.detail}" for one in checking.faults(pdf)), *others(pdf)]


def others(pdf: bytes) -> list[str]:
    """Of the two that are not ours."""
    return [*_of_checker(pdf), *_of_structure(pdf)]


def _of_checker(pdf: bytes) -> Iterator[str]:
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(pdf)
        file.flush()
        report = pdfua.validate(file.name)
    yield from (f"{one.rule_id}: {one.message}" for one in report.findings if one.rule_id != _CLAIM)
    yield from (f"{one.rule_id}: {one.skipped_reason}" for one in report.skipped if one.rule_id not in _CANNOT)


def _of_structure(pdf: bytes) -> Iterator[str]:
    with pikepdf.open(BytesIO(pdf)) as file:
        yield from _of_catalog(file)
        elements = list(_elements(file.Root.get("/StructTreeRoot", Dictionary())))
        yield from (
            f"{one.S} without alternative text" for one in elements if Name.Figure == one.S and not one.get("/Alt")
        )
        yield from ("header cell without scope" for one in elements if one.S == Name.TH and not _scope(one))
        yield from _of_fonts(file)
        yield from _of_reach(file, elements)


def _of_catalog(file: pikepdf.Pdf) -> Iterator[str]:
    if not str(file.Root.get("/Lang", "")):
        yield "no language"
    if not file.Root.get("/MarkInfo", Dictionary()).get("/Marked", False):
        yield "not marked as tagged"
    with file.open_metadata() as metadata:
        if not metadata.get("dc:title"):
            yield "no title"


def _elements(node: Any) -> Iterator[Any]:
    """Structure elements in the order of the tree, which is the order of reading."""
    for kid in _kids(node):
        if isinstance(kid, Dictionary) and "/S" in kid:
            yield kid
            yield from _elements(kid)


def _kids(node: Any) -> list[Any]:
    kids = node.get("/K")
    if kids is None:
        return []
    return list(kids) if isinstance(kids, Array) else [kids]


def _scope(cell: Any) -> bool:
    attributes = cell.get("/A")
    found = list(attributes) if isinstance(attributes, Array) else [attributes]
    return any(isinstance(one, Dictionary) and "/Scope" in one for one in found)


def _of_fonts(file: pikepdf.Pdf) -> Iterator[str]:
    for page in file.pages:
        for font in page.Resources.get("/Font", Dictionary()).values():
            descendant = font.DescendantFonts[0] if "/DescendantFonts" in font else font
            descriptor = descendant.get("/FontDescriptor", Dictionary())
            if not any(f"/FontFile{number}" in descriptor for number in ("", "2", "3")):
                yield f"{font.BaseFont} is not embedded"
            if not _SUBSET.fullmatch(str(font.BaseFont)):
                yield f"{font.BaseFont} is no subset"


def _of_reach(file: pikepdf.Pdf, elements: list[Any]) -> Iterator[str]:
    """What is drawn on each page as content is reached from the tree, each piece once."""
    reached: dict[tuple[int, int], list[int]] = {}
    for element in elements:
        for kid in _kids(element):
            if isinstance(kid, int):
                reached.setdefault(element.Pg.objgen, []).append(kid)
            elif isinstance(kid, Dictionary) and kid.get("/Type") == Name.MCR:
                reached.setdefault(kid.get("/Pg", element.get("/Pg")).objgen, []).append(int(kid.MCID))
    for number, page in enumerate(file.pages, start=1):
        drawn, read = list(_drawn(page)), reached.get(page.obj.objgen, [])
        if sorted(drawn) != sorted(read):
            yield f"page {number}: drawn and never read, or the other way: {sorted(set(drawn) ^ set(read))}"


def _drawn(page: pikepdf.Page) -> Iterator[int]:
    for instruction in pikepdf.parse_content_stream(page):
        operands: Any = instruction.operands
        if str(instruction.operator) == "BDC" and isinstance(operands[1], Dictionary) and "/MCID" in operands[1]:
            yield int(operands[1].MCID)
