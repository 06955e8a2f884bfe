"""Checks of a finished file against points of PDF/A-3a and PDF/UA-1 that can be read from its structure.

It finds faults; it proves no conformity, and nothing that is printed claims any. Only a validator could.
Points and clauses: ISO 19005-3 and ISO 14289-1, from memory.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise
from typing import Any

from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

_FONT_FILES = ("/FontFile", "/FontFile2", "/FontFile3")
_HEADING = re.compile(r"/H([1-6])")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    point: str
    detail: str = ""


def faults(pdf: bytes) -> list[Fault]:
    reader = PdfReader(BytesIO(pdf))
    catalog = reader.root_object
    elements = list(_elements(catalog))
    return [
        *_document_faults(reader, catalog),
        *_metadata_faults(catalog),
        *_font_faults(reader),
        *_heading_faults(elements),
        *_figure_faults(elements),
        *_table_faults(elements),
        *_untagged_faults(reader, catalog, elements),
        *_link_faults(reader),
    ]


def _document_faults(reader: PdfReader, catalog: DictionaryObject) -> Iterator[Fault]:
    if "/StructTreeRoot" not in catalog or not _inside(catalog, "/MarkInfo").get("/Marked"):
        yield Fault(point="tagged")
    if not str(catalog.get("/Lang", "")):
        yield Fault(point="language")
    if not _inside(catalog, "/ViewerPreferences").get("/DisplayDocTitle"):
        yield Fault(point="title shown")
    if not reader.metadata or not reader.metadata.title:
        yield Fault(point="title")
    if "/OutputIntents" not in catalog:
        yield Fault(point="output intent")
    if reader.is_encrypted:
        yield Fault(point="encrypted")
    if "/EmbeddedFiles" in _inside(catalog, "/Names") or "/AF" in catalog:
        yield Fault(point="embedded file")
    if "/OpenAction" in catalog or "/JavaScript" in _inside(catalog, "/Names"):
        yield Fault(point="action")


def _metadata_faults(catalog: DictionaryObject) -> Iterator[Fault]:
    if "/Metadata" not in catalog:
        yield Fault(point="metadata")
        return
    xmp = _value(catalog["/Metadata"]).get_data().decode()
    for name, wanted in (("part", "3"), ("conformance", "A")):
        # Both ways of writing a property are right: as an attribute, and as an element.
        if f'pdfaid:{name}="{wanted}"' not in xmp and f"<pdfaid:{name}>{wanted}<" not in xmp:
            yield Fault(point="metadata", detail=f"pdfaid:{name}")
    if "pdfuaid" in xmp:
        yield Fault(point="claims PDF/UA")
    if "dc:title" not in xmp:
        yield Fault(point="title", detail="metadata")


def _font_faults(reader: PdfReader) -> Iterator[Fault]:
    for name, font in _fonts(reader).items():
        if "/ToUnicode" not in font:
            yield Fault(point="font without text", detail=name)
        inner = [_value(kid) for kid in _value(font.get("/DescendantFonts", ArrayObject()))] or [font]
        for one in inner:
            if not any(file in _inside(one, "/FontDescriptor") for file in _FONT_FILES):
                yield Fault(point="font embedded", detail=name)


def _fonts(reader: PdfReader) -> dict[str, Any]:
    found = {}
    for page in reader.pages:
        fonts = _inside(_inside(page, "/Resources"), "/Font")
        found.update({str(_value(font).get("/BaseFont", name)): _value(font) for name, font in fonts.items()})
    return found


def _heading_faults(elements: list[DictionaryObject]) -> Iterator[Fault]:
    levels = [int(match[1]) for element in elements if (match := _HEADING.fullmatch(str(element.get("/S"))))]
    if levels.count(1) != 1 or levels[0] != 1:
        yield Fault(point="headings", detail="one H1, before all others")
    for above, level in pairwise(levels):
        if level > above + 1:
            yield Fault(point="headings", detail=f"H{level} follows H{above}")


def _figure_faults(elements: list[DictionaryObject]) -> Iterator[Fault]:
    for element in elements:
        if element.get("/S") == "/Figure" and not str(element.get("/Alt", "")).strip():
            yield Fault(point="figure without words")


def _table_faults(elements: list[DictionaryObject]) -> Iterator[Fault]:
    for element in elements:
        if element.get("/S") == "/Table" and not any(kid.get("/S") == "/TH" for kid in _below(element)):
            yield Fault(point="table without headers")
        if element.get("/S") == "/TH" and not _scopes(element) & {"/Row", "/Column", "/Both"}:
            yield Fault(point="header without scope")


def _scopes(cell: DictionaryObject) -> set[str]:
    attributes = _inside(cell, "/A")
    held = attributes if isinstance(attributes, ArrayObject) else [attributes]
    return {str(_value(one).get("/Scope")) for one in held}


def _untagged_faults(reader: PdfReader, catalog: DictionaryObject, elements: list[DictionaryObject]) -> Iterator[Fault]:
    """Every piece of text is either an artifact or belongs to an element that hangs in the tree."""
    hanging = {id(element) for element in elements}
    numbers = _inside(_inside(catalog, "/StructTreeRoot"), "/ParentTree").get("/Nums", ArrayObject())
    for owners in numbers[1::2]:
        for owner in _value(owners) if isinstance(_value(owners), ArrayObject) else [owners]:
            element = _value(owner)
            if isinstance(element, DictionaryObject) and id(element) not in hanging:
                yield Fault(point="text outside the tree", detail=str(element.get("/S")))
    for number, page in enumerate(reader.pages, start=1):
        if page.get("/Tabs") != "/S":
            yield Fault(point="order of tabbing", detail=f"page {number}")


def _link_faults(reader: PdfReader) -> Iterator[Fault]:
    for page in reader.pages:
        for annotation in _value(page.get("/Annots", ArrayObject())):
            link = _value(annotation)
            if "/StructParent" not in link or not str(link.get("/Contents", "")):
                yield Fault(point="link without words")


def _elements(catalog: DictionaryObject) -> Iterator[DictionaryObject]:
    yield from _below(_inside(catalog, "/StructTreeRoot"))


def _below(element: Any) -> Iterator[DictionaryObject]:
    """All elements under this one, in reading order."""
    kids = _value(element.get("/K", ArrayObject()))
    for kid in kids if isinstance(kids, ArrayObject) else [kids]:
        inner = _value(kid)
        if isinstance(inner, DictionaryObject) and "/S" in inner:
            yield inner
            yield from _below(inner)


def _inside(holder: Any, name: str) -> Any:
    return _value(holder.get(name, DictionaryObject()))


def _value(thing: Any) -> Any:
    return thing.get_object() if isinstance(thing, IndirectObject) else thing
