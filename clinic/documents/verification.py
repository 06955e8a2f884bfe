"""Is this sheet genuine? Answered to anybody, from a code, a file or both, without anything clinical."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from django.db.models import Q
from django.utils.functional import Promise

from clinic.documents.models import IssuedDocument
from clinic.documents.uploads import Fingerprint
from clinic.trail.clock import local


class State(StrEnum):
    GENUINE = "genuine"  # the very bytes that were issued
    KNOWN = "known"  # the code belongs to a document of ours; no file was given
    ALTERED = "altered"  # it claims to be a document of ours, and its bytes are not those issued
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
    claimed = Q(file_identifier__in=file.identifiers)
    return _verdict(State.ALTERED, by_code or by_bytes or IssuedDocument.objects.filter(claimed).first())


def _verdict(state: State, document: IssuedDocument | None) -> Verdict:
    if document is None:
        return Verdict(state=State.UNKNOWN)
    site = document.site
    issued_on = local(document.issued_at, site.timezone).date()
    return Verdict(state=state, practice=site.practice.name, word=document.word, issued_on=issued_on)
