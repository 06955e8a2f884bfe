"""What makes a signature verifiable: one hash over the signed words' hash and everything the signer did. Pure."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime

from whitening.consent.rules import Strokes

# Which shape the sealed bytes have; it goes up when anything is added to them.
SEAL = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """All that a signature stands for. plan and talk are the rows' keys, photographs maps each use to the choice made.

    document_sha256 is over the sheet made at signing, or over the scan of what was signed on paper; reading_sha256 over
    what two people read on it, empty on a screen; answers_sha256 over the health answers that the consent says are
    true, empty where none were handed in.
    """

    text_sha256: str
    wording: str
    language: str
    document_sha256: str
    reading_sha256: str
    answers_sha256: str
    case: int
    plan: int
    talk: int
    method: str
    name: str
    strokes: Strokes
    photographs: Mapping[str, bool]
    device: str
    zone: str
    signed_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Interpreted:
    """heard_by is the key of whoever heard it on the telephone, paper_sha256 over the scan it stands on, reading_sha256
    over what two people read there.
    """

    text_sha256: str
    paper_sha256: str
    reading_sha256: str
    case: int
    method: str
    name: str
    language: str
    strokes: Strokes
    heard_by: int | None
    zone: str
    signed_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Countersigned:
    """signature_sha256 is the seal of what is countersigned, by the key of the clinician."""

    signature_sha256: str
    by: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn:
    """by: as it stands in the row, the patient or who of the staff took it down."""

    signature_sha256: str
    words: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """What the second person found; read_by is the key of the first, once more."""

    agrees: bool
    words: str
    at: datetime
    by: int
    read_by: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What one person read on a signed paper, and the other one compared. form_sha256: empty on a blank form."""

    text_sha256: str
    talk: int
    paper_sha256: str
    form_sha256: str
    name: str
    name_words: str
    signed_on: date
    photographs: Mapping[str, bool]
    interpreter_signed: bool
    at: datetime
    by: int
    compared: Compared | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperWithdrawn:
    """While it waited for the second person. reading_sha256: over what the first one read."""

    reading_sha256: str
    words: str
    by: str
    at: datetime


Sealed = Signed | Interpreted | Countersigned | Withdrawn | Read | PaperWithdrawn


def canonical(signed: Sealed) -> bytes:
    """The same bytes on every machine and after every reading back: keys in order, time in UTC."""
    match signed:
        case Signed():
            return _bytes(_consent(signed))
        case Interpreted():
            return _bytes(_interpreter(signed))
        case Countersigned() | Withdrawn():
            return _bytes(_afterwards(signed))
        case Read():
            return _bytes(_read(signed))
        case PaperWithdrawn():
            return _bytes(_paper_withdrawn(signed))


def seal(signed: Sealed) -> str:
    return hashlib.sha256(canonical(signed)).hexdigest()


def answers_digest(
    *,
    case: int,
    questionnaire: str,
    language: str,
    source: str,
    given_on: date,
    handed_in_at: datetime,
    handed_in_by: str,
    values: Mapping[str, object],
) -> str:
    """Over one set of health answers as it was handed in."""
    plain = {
        "seal": SEAL,
        "case": case,
        "questionnaire": questionnaire,
        "language": language,
        "source": str(source),
        "given_on": given_on.isoformat(),
        "handed_in_at": _instant(handed_in_at),
        "handed_in_by": handed_in_by,
        "values": dict(values),
    }
    return hashlib.sha256(_bytes(plain)).hexdigest()


def _consent(signed: Signed) -> dict[str, object]:
    return {
        "seal": SEAL,
        "signer": "patient",
        "text": signed.text_sha256,
        "wording": signed.wording,
        "language": signed.language,
        "document": signed.document_sha256,
        "reading": signed.reading_sha256,
        "answers": signed.answers_sha256,
        "case": signed.case,
        "plan": signed.plan,
        "talk": signed.talk,
        "method": str(signed.method),
        "name": signed.name,
        "strokes": signed.strokes,
        "photographs": {str(use): allowed for use, allowed in signed.photographs.items()},
        "device": signed.device,
        "zone": signed.zone,
        "signed_at": _instant(signed.signed_at),
    }


def _interpreter(signed: Interpreted) -> dict[str, object]:
    return {
        "seal": SEAL,
        "signer": "interpreter",
        "text": signed.text_sha256,
        "paper": signed.paper_sha256,
        "reading": signed.reading_sha256,
        "case": signed.case,
        "method": str(signed.method),
        "name": signed.name,
        "language": signed.language,
        "strokes": signed.strokes,
        "heard_by": signed.heard_by,
        "zone": signed.zone,
        "signed_at": _instant(signed.signed_at),
    }


def _afterwards(signed: Countersigned | Withdrawn) -> dict[str, object]:
    plain: dict[str, object] = {
        "seal": SEAL,
        "signature": signed.signature_sha256,
        "by": signed.by,
        "at": _instant(signed.at),
    }
    if isinstance(signed, Withdrawn):
        return plain | {"signer": "withdrawal", "words": signed.words}
    return plain | {"signer": "clinician"}


def _read(read: Read) -> dict[str, object]:
    compared = read.compared
    return {
        "seal": SEAL,
        "text": read.text_sha256,
        "talk": read.talk,
        "paper": read.paper_sha256,
        "form": read.form_sha256,
        "name": read.name,
        "name_words": read.name_words,
        "signed_on": read.signed_on.isoformat(),
        "photographs": {str(use): allowed for use, allowed in read.photographs.items()},
        "interpreter_signed": read.interpreter_signed,
        "at": _instant(read.at),
        "by": read.by,
        "compared": None
        if compared is None
        else {
            "agrees": compared.agrees,
            "words": compared.words,
            "at": _instant(compared.at),
            "by": compared.by,
            "read_by": compared.read_by,
        },
    }


def _paper_withdrawn(withdrawn: PaperWithdrawn) -> dict[str, object]:
    return {
        "seal": SEAL,
        "signer": "withdrawal of a paper",
        "reading": withdrawn.reading_sha256,
        "words": withdrawn.words,
        "by": withdrawn.by,
        "at": _instant(withdrawn.at),
    }


def _instant(at: datetime) -> str:
    return at.astimezone(UTC).isoformat()


def _bytes(plain: Mapping[str, object]) -> bytes:
    return json.dumps(plain, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode("utf-8")
