"""What is copied out of a page by a reader that heeds ActualText (ISO 32000-1, 14.9.4), as common readers do."""

import re
from io import BytesIO
from typing import Any

import pikepdf

_LETTER = re.compile(rb"<([0-9A-F]{4})> <([0-9A-F]+)>")


def copied(pdf: bytes) -> str:
    with pikepdf.open(BytesIO(pdf)) as file:
        return "".join(_of_page(page) for page in file.pages)


def _of_page(page: pikepdf.Page) -> str:
    fonts = {name: _letters(font) for name, font in page.Resources.Font.items()}
    told: list[str] = []
    letters: dict[int, str] = {}
    # How deep we are in marked content, and from which depth on words stand for what is drawn.
    instead = [False]
    for instruction in pikepdf.parse_content_stream(page):
        operands: Any = instruction.operands
        name = str(instruction.operator)
        if name in {"BDC", "BMC"}:
            words = (
                operands[1].get("/ActualText")
                if name == "BDC" and isinstance(operands[1], pikepdf.Dictionary)
                else None
            )
            told.append(str(words) if words is not None and not instead[-1] else "")
            instead.append(instead[-1] or words is not None)
        elif name == "EMC":
            instead.pop()
        elif name == "Tf":
            letters = fonts[str(operands[0])]
        elif name in {"TJ", "Tj"} and not instead[-1]:
            pieces = operands[0] if name == "TJ" else [operands[0]]
            told += [_drawn(bytes(piece), letters) for piece in pieces if isinstance(piece, pikepdf.String)]
    return "".join(told)


def _letters(font: Any) -> dict[int, str]:
    table = font.ToUnicode.read_bytes()
    return {int(code, 16): bytes.fromhex(text.decode()).decode("utf-16-be") for code, text in _LETTER.findall(table)}


def _drawn(codes: bytes, letters: dict[int, str]) -> str:
    return "".join(letters[int.from_bytes(codes[at : at + 2])] for at in range(0, len(codes), 2))
