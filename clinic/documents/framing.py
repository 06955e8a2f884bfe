"""What stands on every page around a sheet's own words: practice, patient, date, code, page x of y."""

from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from clinic.accounts.dates import birth_words, day_words
from clinic.accounts.models import Site
from clinic.documents import codes
from clinic.documents.kinds import DocumentKind
from clinic.patients.models import Patient


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    practice: str
    patient: str
    foot: str
    page_before: str
    page_between: str
    page_after: str
    issued_on: str
    code: str
    verify_address: str
    verify_shown: str
    is_large: bool


def frame(
    *,
    kind: DocumentKind,
    site: Site,
    patient: Patient | None,
    title: str | Promise,
    code: str,
    is_large: bool,
    now: datetime,
    note: str = "",
) -> Frame:
    """Called with the patient's language active, so that every word and date is in it.

    note: what stands at the foot of every page beside title and day.
    """
    issued_on = day_words(now, site.zone)
    before, between, after = _page_words()
    return Frame(
        practice=site.practice.name,
        patient=patient_line(patient) if patient else "",
        foot=" · ".join(part for part in (str(title), issued_on, note) if part),
        page_before=before,
        page_between=between,
        page_after=after,
        issued_on=issued_on,
        code=codes.grouped(code),
        verify_address=verify_address(),
        verify_shown=verify_address().partition("://")[2],
        is_large=is_large,
    )


def verify_address() -> str:
    return settings.PUBLIC_URL + reverse("verify")


def patient_line(patient: Patient) -> str:
    return _("%(name)s, born %(date)s") % {"name": patient.name, "date": birth_words(patient.birth_on)}


def _page_words() -> tuple[str, str, str]:
    """The margin counts pages by itself, so the sentence is cut where its two numbers stand."""
    sentence = _("Page %(page)s of %(pages)s") % {"page": "\0", "pages": "\0"}
    before, between, after = sentence.split("\0")
    return before, between, after
