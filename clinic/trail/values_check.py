"""Opening every value whose key is still there: slower than the chain, and it needs the keys."""

from dataclasses import dataclass

from clinic.trail import report as said
from clinic.trail.erasure import Unreadable, ValuesAltered, payload_of
from clinic.trail.models import TrailEntry
from clinic.trail.report import Findings

CHUNK = 2_000


@dataclass(slots=True, kw_only=True)
class ValuesReport:
    opened: int = 0
    erased: int = 0
    key_missing: int = 0


def check_values(findings: Findings, *, using: str = "default") -> ValuesReport:
    """A value that does not open, or does not match its digest, is a finding; a missing key is counted."""
    report = ValuesReport()
    for entry in TrailEntry.objects.using(using).order_by("pk").iterator(CHUNK):
        try:
            payload = payload_of(entry)
        except ValuesAltered:
            findings.add(said.VALUES_ALTERED, entry=entry.pk)
            continue
        if payload is Unreadable.ERASED:
            report.erased += 1
        elif payload is Unreadable.KEY_MISSING:
            report.key_missing += 1
        else:
            report.opened += 1
    return report
