"""What makes a signature verifiable: one hash over the signed words' hash and everything the patient did. Pure."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from whitening.consent.rules import Strokes


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """All that a signature stands for. plan is the row's key, photographs maps each use to the choice made."""

    text_sha256: str
    document_sha256: str
    case: int
    plan: int
    method: str
    name: str
    strokes: Strokes
    photographs: Mapping[str, bool]
    device: str
    zone: str
    signed_at: datetime


def canonical(signed: Signed) -> bytes:
    """The same bytes on every machine and after every reading back: keys in order, time in UTC."""
    plain = {
        "text": signed.text_sha256,
        "document": signed.document_sha256,
        "case": signed.case,
        "plan": signed.plan,
        "method": str(signed.method),
        "name": signed.name,
        "strokes": signed.strokes,
        "photographs": {str(use): allowed for use, allowed in signed.photographs.items()},
        "device": signed.device,
        "zone": signed.zone,
        "signed_at": signed.signed_at.astimezone(UTC).isoformat(),
    }
    return json.dumps(plain, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode("utf-8")


def seal(signed: Signed) -> str:
    return hashlib.sha256(canonical(signed)).hexdigest()
