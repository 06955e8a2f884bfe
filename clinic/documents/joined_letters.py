"""Letters that are drawn from two parts are read and copied once.

The Arabic font draws a letter's body and its dots as two glyphs at two heights, which the typesetter writes as two
pieces of text, each standing for the whole letter. Of these, the dots are made to stand for nothing (ActualText,
ISO 32000-1, 14.9.4). Only sheets with Arabic letters pass through here.
"""

import re
import unicodedata
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pikepdf
from pikepdf import ContentStreamInstruction, Dictionary, Name, Operator, Pdf, String

_FONT = b"CasebookArabic"
_LETTER = re.compile(rb"<([0-9A-F]{4})> <([0-9A-F]+)>")
_SHOWN = {"TJ", "Tj"}
Instruction = Any
_SILENT = ContentStreamInstruction([Name.Span, Dictionary(ActualText=String(""))], Operator("BDC"))
_END = ContentStreamInstruction([], Operator("EMC"))


def read_once(pdf: bytes) -> bytes:
    if _FONT not in pdf:
        return pdf
    with Pdf.open(BytesIO(pdf)) as file:
        for page in file.pages:
            fonts = {name: _parts(font) for name, font in page.Resources.get("/Font", Dictionary()).items()}
            if any(fonts.values()):
                page.Contents = file.make_stream(pikepdf.unparse_content_stream(list(_written(page, fonts))))
        out = BytesIO()
        file.save(out, deterministic_id=True)
        return out.getvalue()


def _written(page: pikepdf.Page, fonts: dict[str, set[int]]) -> Iterator[Instruction]:
    """Each piece of text in a span of its own, or in the one in which the typesetter has put it."""
    parts: set[int] = set()
    held: list[Instruction] = []
    is_silent = True
    for instruction in pikepdf.parse_content_stream(page):
        name = str(instruction.operator)
        if name == "Tf":
            parts = fonts[str(instruction.operands[0])]
        are_parts = name in _SHOWN and (codes := _codes(instruction)) <= parts and bool(codes)
        if held or _has_words(instruction):
            held.append(instruction)
            is_silent = is_silent and (are_parts or name not in _SHOWN)
            if name == "EMC":
                yield from [_SILENT, *held[1:]] if is_silent else held
                held, is_silent = [], True
        elif are_parts:
            yield from (_SILENT, instruction, _END)
        else:
            yield instruction


def _has_words(instruction: Instruction) -> bool:
    properties = instruction.operands[1] if len(instruction.operands) > 1 else None
    return isinstance(properties, Dictionary) and "/ActualText" in properties


def _codes(instruction: Instruction) -> set[int]:
    shown = instruction.operands[0]
    pieces = [
        bytes(piece) for piece in (shown if str(instruction.operator) == "TJ" else [shown]) if isinstance(piece, String)
    ]
    return {int.from_bytes(piece[at : at + 2]) for piece in pieces for at in range(0, len(piece), 2)}


def _parts(font: Any) -> set[int]:
    """Glyphs that take no room in the line and are no marks of their own: dots, and what else sits on a letter."""
    if _FONT.decode() not in str(font.BaseFont):
        return set()
    inner = font.DescendantFonts[0]
    widths, usual = _widths(inner.get("/W", [])), float(inner.get("/DW", 1000))
    letters = _LETTER.findall(font.ToUnicode.read_bytes())
    texts = {int(code, 16): bytes.fromhex(text.decode()).decode("utf-16-be") for code, text in letters}
    own = {code for code, text in texts.items() if all(unicodedata.category(mark) == "Mn" for mark in text)}
    return {code for code in texts if widths.get(code, usual) == 0 and code not in own}


def _widths(entries: Any) -> dict[int, float]:
    """ISO 32000-1, 9.7.4.3: `first [w …]` or `first last w`."""
    found: dict[int, float] = {}
    waiting = list(entries)
    while waiting:
        first, then = int(waiting.pop(0)), waiting.pop(0)
        if isinstance(then, pikepdf.Array):
            found |= {first + number: float(width) for number, width in enumerate(then)}
        else:
            width = float(waiting.pop(0))
            found |= dict.fromkeys(range(first, int(then) + 1), width)
    return found
