"""Drawing sheets: the warm renderer beside a library that prints web pages, used fresh as its manual shows."""

from collections.abc import Iterator
from functools import partial
from io import BytesIO

from pypdf import PdfReader
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration

from benchmarks.frame import Figure, Result, Target
from clinic.documents.bundled import FONTS, FONTS_DIR
from clinic.documents.client import POOL
from clinic.documents.jobs import Job
from clinic.documents.paper import Paper
from clinic.documents.qr import as_picture

# Name, pages, rows of the table that fill them, and the most that one may take, in milliseconds.
SIZES = (("one page", 1, 12, 500), ("three pages", 3, 70, 1_000), ("sixty pages", 60, 1_830, 10_000))
YARDSTICK = "WeasyPrint, fresh for each document, the same page and fonts"
# The least that makes the same page comparable: paper, margins, and the two weights of the letters.
FACES = "".join(
    f"@font-face {{ font-family: '{family}'; src: url('{(FONTS_DIR / name).as_uri()}'); }}"
    for name, family in FONTS.items()
)
STYLE = (
    FACES
    + """
@page { size: A4; margin: 32mm 22mm 24mm; }
html { font: 11pt/1.45 "Casebook Sans", "Casebook Arabic"; }
h1, h2, h3, strong, th { font-family: "Casebook Sans Semibold", "Casebook Arabic Semibold"; font-weight: 400; }
"""
)


def results() -> Iterator[Result]:
    for name, pages, rows, limit in SIZES:
        job = page_of(rows)
        yield Figure(
            name=f"document: {name}",
            run=partial(POOL.draw, job),
            yardstick=YARDSTICK,
            yardstick_run=partial(fresh, job),
            target=Target(limit=limit, of="value"),
            size={"rows": rows, "pages": counted(job, pages)},
        ).measure()


class OtherSize(ValueError):
    """The figure would be about another length than its name says."""


def counted(job: Job, pages: int) -> int:
    """The pages of the file itself. Raises OtherSize where they are not as many as the figure's name says."""
    found = len(PdfReader(BytesIO(POOL.draw(job).pdf)).pages)
    if found != pages:
        raise OtherSize(f"{found} pages instead of {pages}")
    return found


def page_of(rows: int) -> Job:
    row = "<tr><th scope='row'>Day</th><td>What was done on that day, in a few plain words.</td><td>10:40</td></tr>"
    html = (
        "<!doctype html><html lang='en' dir='ltr'><head></head><body data-practice='Fernbrook Dental Rooms'>"
        f"<h1>Record</h1><img alt='QR code' src='{as_picture('https://casebook.example.org/p/x/')}'>"
        f"<table><tbody>{row * rows}</tbody></table></body></html>"
    )
    return Job(
        html=html,
        title="Record",
        language="en",
        direction="ltr",
        paper=Paper.A4.value,
        made_at="2026-03-03T09:00:00+00:00",
        identifier="0" * 32,
    )


def fresh(job: Job) -> bytes:
    fonts = FontConfiguration()
    drawn: bytes = HTML(string=job.html).write_pdf(
        font_config=fonts, stylesheets=[CSS(string=STYLE, font_config=fonts)], pdf_variant="pdf/a-3a"
    )
    return drawn
