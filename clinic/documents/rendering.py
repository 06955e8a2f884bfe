"""From a template in the patient's language to the bytes of a sheet."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, tzinfo
from functools import lru_cache
from pathlib import Path

from django.template.loader import render_to_string
from django.utils import timezone, translation
from django.utils.functional import Promise

from clinic.accounts.languages import speaking, spoken
from clinic.documents.client import POOL
from clinic.documents.jobs import Drawing, Job
from clinic.documents.paper import Paper

_SHEET_CSS = Path(__file__).with_name("sheet.css").read_text(encoding="utf-8")


def render(*, template: str, context: Mapping[str, object], language: str, title: str | Promise) -> bytes:
    """The sheet alone, for a preview; what a patient is given goes through `actions.issue`."""
    return draw(template=template, context=context, language=language, title=title).pdf


def draw(
    *,
    template: str,
    context: Mapping[str, object],
    language: str,
    title: str | Promise,
    paper: Paper = Paper.A4,
    zone: tzinfo = UTC,
    identifier: str = "",
) -> Drawing:
    page = page_of(template=template, context=context, language=language, title=title, zone=zone)
    css = style(paper, page.direction)
    job = Job(html=page.html, css=css, title=page.title, language=page.language, identifier=identifier)
    return POOL.draw(job)


@dataclass(frozen=True, slots=True)
class Page:
    """A sheet before it is drawn."""

    html: str
    title: str
    language: str
    direction: str


def page_of(
    *, template: str, context: Mapping[str, object], language: str, title: str | Promise, zone: tzinfo = UTC
) -> Page:
    written = spoken(language)
    with speaking(written), timezone.override(zone):
        words = str(title)
        direction = "rtl" if translation.get_language_bidi() else "ltr"
        full = {**context, "title": words, "language": written, "direction": direction}
        return Page(render_to_string(template, full), words, written, direction)


@lru_cache(maxsize=8)
def style(paper: Paper, direction: str) -> str:
    """Margin boxes know only left and right; the sheet's rules say start and end."""
    start, end = ("right", "left") if direction == "rtl" else ("left", "right")
    css = _SHEET_CSS.replace("-start {", f"-{start} {{").replace("-end {", f"-{end} {{")
    return f"@page {{ size: {paper.value}; }}\n{css}"
