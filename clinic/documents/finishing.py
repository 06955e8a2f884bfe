"""What PDF/UA-1 asks of a file and the library leaves out, put right before the file is written."""

from collections.abc import Iterator
from typing import Any

import pydyf
from weasyprint import Document


def finish(document: Document, pdf: pydyf.PDF) -> None:
    _say_which_way_headers_point(document)
    _set_margins_apart(pdf)


def _say_which_way_headers_point(document: Document) -> None:
    """ISO 14289-1, 7.5: a table header tells by its Scope whether it heads a row or a column."""
    for page in document.pages:
        for box in _boxes(page._page_box):
            mark = getattr(box, "mark", None)
            if mark is not None and box.element is not None and box.element.tag == "th" and "A" in mark:
                mark["A"]["Scope"] = "/Row" if box.element.get("scope") == "row" else "/Column"


def _boxes(box: Any) -> Iterator[Any]:
    waiting = [box]
    while waiting:
        box = waiting.pop()
        yield box
        # An absolutely placed box is wrapped; the wrapper hands every question on to it.
        waiting.extend(getattr(box, "children", ()))


def _set_margins_apart(pdf: pydyf.PDF) -> None:
    """ISO 14289-1, 7.1 and 7.8: heads and feet of pages are artifacts, not text to be read again on each page.

    The library marks them as text whose element hangs nowhere in the tree.
    """
    root = _object(pdf, pdf.catalog["StructTreeRoot"])
    hanging = set(_hanging(pdf, root))
    numbers = _object(pdf, root["ParentTree"])["Nums"]
    for page_number, reference in enumerate(pdf.page_references):
        elements = numbers[2 * page_number + 1]
        stream = _object(pdf, _object(pdf, reference)["Contents"]).stream
        for place, word in enumerate(stream):
            if word == b"BDC" and "MCID" in (mark := stream[place - 1]):
                number = int(mark["MCID"])
                if elements[number] not in hanging:
                    stream[place - 2] = "/Artifact"
                    stream[place - 1] = pydyf.Dictionary({"Type": "/Pagination"})
                    elements[number] = "null"


def _hanging(pdf: pydyf.PDF, element: Any) -> Iterator[Any]:
    """References of all elements below this one."""
    waiting = [element]
    while waiting:
        for kid in waiting.pop().get("K", ()):
            # Marked content stands there as a bare number.
            if not isinstance(kid, int):
                yield kid
                waiting.append(_object(pdf, kid))


def _object(pdf: pydyf.PDF, reference: bytes) -> Any:
    return pdf.objects[int(reference.split()[0])]
