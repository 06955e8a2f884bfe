"""One page becomes one tagged PDF/A-3a file. Runs in the renderer's own process only."""

import json
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

import typst
from fontTools.ttLib import TTFont
from lxml import html

from clinic.documents.bundled import FONTS, FONTS_DIR
from clinic.documents.finishing import finish
from clinic.documents.jobs import Drawing, Job
from clinic.documents.limits import Limits
from clinic.documents.reading import Reader, parsed, parts
from clinic.documents.refusing import Unprintable

VARIANT = "a-3a"
_LAYOUT = Path(__file__).with_name("sheet.typ").read_bytes()
# Width and height of each paper, and the sides' margins in normal and in large print, in points.
_SIZES = {"a4": (595.28, 841.89), "us-letter": (612.0, 792.0)}
_MARGINS = {False: (2 * 62.36, 158.74), True: (2 * 51.02, 138.9)}
# Running text is no wider than this, in points: 36 times its size.
_MEASURE = 36 * 11
_HEADS = ("practice", "patient", "foot", "page-before", "page-between", "page-after")


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
        # An empty folder: whatever a layout could name, it would find nothing.
        empty = tempfile.mkdtemp()
        self.compiler = typst.Compiler(
            root=empty, font_paths=self.fonts, package_path=empty, package_cache_path=empty
        )
        self.drawable = _drawable_characters()

    def draw(self, job: Job) -> Drawing:
        reader = Reader(self.drawable)
        sheet = self._sheet(job, reader)
        try:
            pdf = self.compiler.compile(
                _LAYOUT,
                sys_inputs={"job": json.dumps(sheet)},
                format="pdf",
                pdf_standards=[VARIANT],
                timestamp=int(datetime.fromisoformat(job.made_at).timestamp()),
            )
        except typst.TypstError as error:
            raise Unprintable("incomplete") from error
        finished = finish(pdf, row_heads=_row_heads(sheet["parts"]), identifier=job.identifier)
        if finished.pages > self.limits.pages:
            raise Unprintable("pages")
        return Drawing(pdf=finished.pdf, pages=finished.pages, undrawn="".join(sorted(reader.undrawn)))

    def _sheet(self, job: Job, reader: Reader) -> dict[str, Any]:
        root = parsed(job.html)
        body: html.HtmlElement = root.body
        heads = {name: reader.words(body.get(f"data-{name}", "")) for name in _HEADS}
        large = "large" in root.get("class", "").split()
        width, height = _SIZES[job.paper]
        sides, ends = _MARGINS[large]
        author = root.find("head/meta[@name='author']")
        return heads | {
            "title": reader.words(job.title),
            "author": "" if author is None else reader.words(author.get("content", "")),
            "language": job.language,
            "direction": job.direction,
            "paper": job.paper,
            "large": large,
            "width": width - sides,
            "spare": 0 if large else width - sides - _MEASURE,
            "height": height - ends,
            "tight": body.find(".//div[@class='tight']") is not None,
            "parts": parts(reader, body, patient=heads["patient"]),
        }


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
