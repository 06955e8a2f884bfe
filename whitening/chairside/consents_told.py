"""What a session record tells of the consent: what held when the session was opened, and what came until it closed."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from whitening.chairside.models import Session
from whitening.consent.models import Signature, SignedBy


@dataclass(frozen=True, slots=True, kw_only=True)
class ConsentStep:
    """A consent, or its withdrawal. at: when it began to count, which for a paper is when it was compared."""

    at: datetime
    signature: Signature
    is_withdrawal: bool = False

    @property
    def is_on_paper(self) -> bool:
        return self.signature.method == SignedBy.PAPER


def consents_told(session: Session) -> list[ConsentStep]:
    """In order of time. A consent that another one had replaced before the session, or that never counted, is none."""
    if session.closed_at is None:
        raise ValueError("what held during a session is known once it is closed")
    steps = [step for row in _held(session, session.closed_at) for step in _steps(row, session.closed_at)]
    return sorted(steps, key=lambda step: (step.at, step.is_withdrawal))


def _held(session: Session, until: datetime) -> list[Signature]:
    """The newest by its own time counts, so a paper that is compared after a newer signature changes nothing."""
    rows = session.case.signatures.select_related("reading__check_made", "withdrawal").order_by("signed_at", "pk")
    known = sorted((row for row in rows if _counts_from(row) <= until), key=_counts_from)
    held: list[Signature] = []
    for row in known:
        if held and (row.signed_at, row.pk) < (held[-1].signed_at, held[-1].pk):
            continue
        held = [row] if _counts_from(row) <= session.opened_at else [*held, row]
    return held


def _steps(row: Signature, until: datetime) -> Iterator[ConsentStep]:
    yield ConsentStep(at=_counts_from(row), signature=row)
    withdrawal = getattr(row, "withdrawal", None)
    if withdrawal is not None and withdrawal.withdrawn_at <= until:
        yield ConsentStep(at=withdrawal.withdrawn_at, signature=row, is_withdrawal=True)


def _counts_from(row: Signature) -> datetime:
    """A paper counts once a second person has found on it what the first one read."""
    return row.reading.check_made.checked_at if row.reading is not None else row.signed_at
