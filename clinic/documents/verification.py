"""Is this sheet genuine? Answered to anybody, from a code, a file or both, without anything clinical."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from django.db.models import Q
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from clinic.documents.models import IncomingPaper, IssuedDocument, PaperKind
from clinic.documents.uploads import Fingerprint
from clinic.trail.clock import local


class State(StrEnum):
    GENUINE = "genuine"  # the very bytes that were issued
    KNOWN = "known"  # the code belongs to a document of ours; no file was given
    ALTERED = "altered"  # it claims to be a document of ours, and its bytes are not those issued
    RECEIVED = "received"  # no paper of ours: a signed one that came back, as it was scanned and filed
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    state: State
    practice: str = ""
    word: str | Promise = ""
    issued_on: date | None = None


def look_up(*, code: str, file: Fingerprint | None) -> Verdict:
    """With both, the file must be the one that the code was printed on."""
    by_code = IssuedDocument.objects.filter(verify_code=code).first() if code else None
    if file is None:
        return _verdict(State.KNOWN, by_code)
    by_bytes = IssuedDocument.objects.filter(sha256=file.sha256).first()
    if by_bytes is not None and code in {"", by_bytes.verify_code}:
        return _verdict(State.GENUINE, by_bytes)
    received = IncomingPaper.objects.filter(sha256=file.sha256, kind=PaperKind.CONSENT).order_by("filed_at").first()
    if received is not None:
        return _received(received)
    claimed = Q(file_identifier__in=file.identifiers)
    return _verdict(State.ALTERED, by_code or by_bytes or IssuedDocument.objects.filter(claimed).first())


def _received(paper: IncomingPaper) -> Verdict:
    """Whoever holds the very bytes is told that they are filed here, and not what became of them."""
    site = paper.site
    filed_on = local(paper.filed_at, site.timezone).date()
    return Verdict(state=State.RECEIVED, practice=site.practice.name, word=_("signed paper"), issued_on=filed_on)


def _verdict(state: State, document: IssuedDocument | None) -> Verdict:
    if document is None:
        return Verdict(state=State.UNKNOWN)
    site = document.site
    issued_on = local(document.issued_at, site.timezone).date()
    return Verdict(state=state, practice=site.practice.name, word=document.word, issued_on=issued_on)
