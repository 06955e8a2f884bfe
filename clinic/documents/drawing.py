"""One page becomes one tagged PDF/A-3a file. Runs in the renderer's own process only."""

import json
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import typst
from fontTools.ttLib import TTFont
from lxml import html

from clinic.documents.bundled import FONTS, FONTS_DIR
from clinic.documents.finishing import finish
from clinic.documents.jobs import Drawing, Job
from clinic.documents.limits import Limits
from clinic.documents.reading import Reader, parsed, parts
from clinic.documents.refusing import Unprintable

VARIANT: Final = "a-3a"
_LAYOUT = str(Path(__file__).with_name("layout"))
# Of each paper the width, and of its sides the margins in normal and in large print, in points.
_WIDTHS = {"a4": 595.28, "us-letter": 612.0}
_SIDES = {False: 124.72, True: 102.05}
# Running text is no wider than this, in points: 36 times its size.
_MEASURE = 36 * 11
_AROUND = ("practice", "patient", "foot", "page-before", "page-between", "page-after")


class Studio:
    """Fonts, layout and limits that all jobs of one process share."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        # Of this folder it takes the TTF files; those for the browser are of a kind that it does not read.
        self.fonts = typst.Fonts(
            include_system_fonts=False,
            include_embedded_fonts=False,
            font_paths=[str(FONTS_DIR)],
        )
        # Nothing but the layout is within its reach, and no folder of packages is.
        empty = tempfile.mkdtemp()
        self.compiler = typst.Compiler(
            root=_LAYOUT, font_paths=self.fonts, package_path=empty, package_cache_path=empty
        )
        self.drawable = _drawable_characters()

    def draw(self, job: Job) -> Drawing:
        root = parsed(job.html)
        reader = Reader(self.drawable, large="large" in root.get("class", "").split())
        sheet = _sheet(job, root, reader)
        pdf = self._set(_program(sheet), datetime.fromisoformat(job.made_at))
        finished = finish(pdf, row_heads=_row_heads(sheet["parts"]), identifier=job.identifier)
        if finished.pages > self.limits.pages:
            raise Unprintable("pages")
        return Drawing(pdf=finished.pdf, pages=finished.pages, undrawn="".join(sorted(reader.undrawn)))

    def _set(self, program: bytes, made_at: datetime) -> bytes:
        try:
            pdf = self.compiler.compile(
                program, format="pdf", pdf_standards=[VARIANT], timestamp=int(made_at.timestamp())
            )
        except typst.TypstError as error:
            # Its words may quote the sheet.
            raise Unprintable("incomplete") from error
        if not isinstance(pdf, bytes):
            raise Unprintable("incomplete")
        return pdf


def _sheet(job: Job, root: html.HtmlElement, reader: Reader) -> dict[str, Any]:
    """All that the layout is told: how the sheet is set, what stands around its words, and the words."""
    body: html.HtmlElement = root.body
    around = {name: reader.words(body.get(f"data-{name}", "")) for name in _AROUND}
    author = root.find("head/meta[@name='author']")
    width = _WIDTHS[job.paper] - _SIDES[reader.large]
    return {
        "around": around,
        "title": reader.words(job.title),
        "author": "" if author is None else reader.words(author.get("content", "")),
        "language": job.language,
        "right-to-left": job.direction == "rtl",
        "paper": job.paper,
        "large": reader.large,
        "width": width,
        "spare": 0 if reader.large else width - _MEASURE,
        "tight": body.find(".//div[@class='tight']") is not None,
        "parts": parts(reader, body, patient=around["patient"]),
    }


def _program(sheet: dict[str, Any]) -> bytes:
    """The data as one literal string: its JSON is ASCII without control characters, so only `"` and `\\` are escaped,
    and both are written in the layout's language as they are in JSON. Nothing of it can be read as a command."""
    literal = json.dumps(json.dumps(sheet))
    return f'#import "/sheet.typ": sheet\n#sheet(json(bytes({literal})))\n'.encode("ascii")


def _row_heads(parts: list[dict[str, Any]]) -> list[bool]:
    """For each cell below the heads of the tables, in reading order: whether it heads its row."""
    found: list[bool] = []
    waiting: list[Any] = [parts]
    while waiting:
        node = waiting.pop()
        if isinstance(node, list):
            waiting.extend(reversed(node))
        elif isinstance(node, dict):
            if node.get("t") in {"td", "th"} and "scope" in node:
                found.append(node["t"] == "th")
            waiting.extend([node.get("body", []), node.get("k", [])])
    return found


def _drawable_characters() -> set[str]:
    marks = {"\t", "\n", "\r", "\f"}
    for name in FONTS:
        with TTFont(FONTS_DIR / name, lazy=True) as font:
            marks |= {chr(point) for point in font.getBestCmap()}
    return marks
