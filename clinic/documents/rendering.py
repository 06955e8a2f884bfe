"""From a template in the patient's language to the bytes of a sheet."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from django.template.loader import render_to_string
from django.utils import timezone, translation
from django.utils.functional import Promise

from clinic.accounts.languages import speaking, spoken
from clinic.documents.client import POOL
from clinic.documents.jobs import Drawing, Job
from clinic.documents.paper import Paper


def draw(
    *,
    template: str,
    context: Mapping[str, object],
    language: str,
    title: str | Promise,
    made_at: datetime,
    paper: Paper = Paper.A4,
    zone: tzinfo = UTC,
    identifier: str = "",
) -> Drawing:
    page = page_of(template=template, context=context, language=language, title=title, zone=zone)
    return POOL.draw(
        Job(
            html=page.html,
            title=page.title,
            language=page.language,
            direction=page.direction,
            paper=paper.value,
            made_at=made_at.isoformat(),
            identifier=identifier,
        )
    )


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
