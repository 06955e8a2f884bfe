"""What PDF/UA-1 asks of a file and the typesetter leaves out, put in after it is made."""

from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from pikepdf import Array, Dictionary, Name, Pdf, String


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    pdf: bytes
    pages: int


def finish(pdf: bytes, *, row_heads: list[bool], identifier: str) -> Finished:
    """row_heads: for each cell below the heads of the tables, in reading order, whether it heads its row."""
    with Pdf.open(BytesIO(pdf)) as file:
        file.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
        _say_which_cells_head_rows(file, row_heads)
        if identifier:
            name = String(identifier)
            file.trailer.ID = Array([name, name])
        out = BytesIO()
        file.save(out, static_id=False, fix_metadata_version=False)
        return Finished(pdf=out.getvalue(), pages=len(file.pages))


def _say_which_cells_head_rows(file: Pdf, row_heads: list[bool]) -> None:
    cells = _cells(file.Root.StructTreeRoot)
    for cell, is_head in zip(cells, row_heads, strict=True):
        if is_head:
            cell.S = Name.TH
            cell.A = Array([Dictionary(O=Name.Table, Scope=Name.Row)])


def _cells(element: Any) -> Iterator[Any]:
    kids = element.get("/K")
    for kid in kids if isinstance(kids, Array) else [kids]:
        if isinstance(kid, Dictionary) and "/S" in kid:
            if kid.S == Name.TD:
                yield kid
            yield from _cells(kid)
