"""What can be said by letter: whether the post is quick enough, and what the letter says."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.template.loader import render_to_string
from django.utils import timezone, translation

from clinic.accounts.dates import day_words
from clinic.accounts.languages import speaking, spoken
from clinic.messages import letters
from clinic.messages.kinds import Kind
from clinic.messages.models import DueMessage
from clinic.patients.models import Patient

logger = logging.getLogger(__name__)
# From the printer to the patient's door, with a weekend between; common practice, no source.
POST_TAKES = timedelta(days=4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One letter as it goes into the batch. html: a section of the sheet, in the patient's own language."""

    name: str
    about: str
    html: str


def post_by(kind: Kind[Any], subject: Any, message: DueMessage, patient: Patient, *, now: datetime) -> datetime | None:
    """Until when a letter may say it; None where the kind, the missing address or the time stands against it."""
    if kind.letter_by is None or not patient.address.strip():
        return None
    latest = kind.letter_by(subject, message) - POST_TAKES
    return latest if latest > now else None


def write_sheet(kind: Kind[Any], subject: Any, message: DueMessage, patient: Patient, *, now: datetime) -> Sheet:
    language, site = spoken(patient.language), message.site
    with speaking(language), timezone.override(site.zone), letters.on_paper():
        letter = kind.compose(subject, message, "")
        context = {
            "site": site,
            "patient": patient,
            "letter": letter,
            "paragraphs": paragraphs(letter.text),
            "day": day_words(now, site.zone),
            "language": language,
            "direction": "rtl" if translation.get_language_bidi() else "ltr",
        }
        html = render_to_string("documents/_letter_to_post.html", context)
    return Sheet(name=patient.name, about=str(kind.label), html=html)


def paragraphs(text: str) -> Sequence[str]:
    return [part.strip() for part in text.split("\n\n") if part.strip()]
