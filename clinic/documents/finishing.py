"""What PDF/UA-1 asks of a file and the typesetter leaves out, put in after it is made.

The typesetter writes its objects plainly and in the order of reading. What is put in is as long as what it
replaces, so that every address in the file stays true; only the last object and the trailer behind it may grow.
A file that is not written as expected is refused: it would have to be looked at first.
"""

import re
from dataclasses import dataclass

from clinic.documents.joined_letters import read_once
from clinic.documents.refusing import Unprintable

_PAGES = re.compile(rb"/Type/Pages/Count (\d{1,6})")
_CELL = re.compile(rb"/Type/StructElem/S/TD(/P \d+ 0 R/A\[<</O/Table[^\[>]*)/Headers(\[[^\]]*\])")
_TABLE_CELL, _HEAD_CELL = b"/Type/StructElem/S/TD", b"/Type/StructElem/S/TH"
_SCOPE = b"/Scope/Row"
_END = re.compile(
    rb"/ViewerPreferences<<([^>]*)>>([^<>]*>>\nendobj\n)xref\n(.*)/ID\[.*\]>>\nstartxref\n\d+\n%%EOF", re.DOTALL
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    pdf: bytes
    pages: int


def finish(pdf: bytes, *, row_heads: list[bool], identifier: str) -> Finished:
    """row_heads: for each cell below the heads of the tables, in reading order, whether it heads its row.

    identifier: ASCII letters and digits. Raises Unprintable.
    """
    pages = _PAGES.search(pdf)
    if pages is None:
        raise Unprintable("incomplete")
    ended = _ended(_headed(pdf, row_heads), identifier)
    return Finished(pdf=read_once(ended), pages=int(pages[1]))


def _headed(pdf: bytes, row_heads: list[bool]) -> bytes:
    """ISO 14289-1, 7.5: a cell that heads its row is a header cell, and its Scope says so."""
    heads = iter(row_heads)

    def headed(cell: re.Match[bytes]) -> bytes:
        if not next(heads, False):
            return cell[0]
        # Which column it stands under is left out where it is the head itself.
        return _HEAD_CELL + cell[1] + _SCOPE.ljust(len(cell[0]) - len(cell[1]) - len(_HEAD_CELL))

    written, count = _CELL.subn(headed, pdf)
    if count != len(row_heads) or count != pdf.count(_TABLE_CELL) or len(written) != len(pdf):
        raise Unprintable("incomplete")
    return written


def _ended(pdf: bytes, identifier: str) -> bytes:
    """The title stands in the window's bar (ISO 14289-1, 7.1), and the file carries our own identifier."""
    # The end alone is searched, or a picture's data could look like it.
    at = pdf.rfind(b"/Type/Catalog")
    catalog = _END.search(pdf, max(at, 0))
    if catalog is None or at < 0:
        raise Unprintable("incomplete")
    preferences = b"/ViewerPreferences<<" + catalog[1] + b"/DisplayDocTitle true>>" + catalog[2]
    before = pdf[: catalog.start()] + preferences
    name = f"({identifier})".encode("ascii") if identifier else b"()"
    return b"%bxref\n%b/ID[%b%b]>>\nstartxref\n%d\n%%%%EOF" % (before, catalog[3], name, name, len(before))
