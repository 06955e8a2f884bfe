"""Of which sessions the aftercare sheet is missing or wrong by now: somebody makes it from the case page."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from clinic.documents.models import IssuedDocument
from clinic.messages import purposes
from whitening.chairside.models import Session
from whitening.chairside.protocol.events import Event
from whitening.recall import aftercare
from whitening.recall.kinds import HOW_ARE_YOU


@dataclass(frozen=True, slots=True)
class ToMake:
    """Of closed sessions, while the page behind the sheet's code can still be opened.

    missing: it could not be made at once. anew: an entry came in later, and the sheet that was to follow could not be
    made, so that the one that is there is wrong.
    """

    missing: Sequence[Session]
    anew: Sequence[Session]


def to_make(
    sessions: Sequence[Session],
    documents: Sequence[IssuedDocument],
    logs: Mapping[int, Sequence[Event]],
    now: datetime,
) -> ToMake:
    """Only a sheet that is older than the log is read again, which is nearly never."""
    sheets = [one for one in documents if (one.kind, one.subject_kind) == (aftercare.KIND, "session")]
    made = {one.subject_id for one in sheets}
    missing = [one for one in sessions if one.closed_at is not None and str(one.pk) not in made]
    made_at = {one.subject_id: one.issued_at for one in reversed(sheets) if not one.large_print}
    older = [
        one
        for one in sessions
        if (at := made_at.get(str(one.pk))) is not None and any(each.recorded_at > at for each in logs.get(one.pk, ()))
    ]
    return ToMake(
        missing=[one for one in missing if _can_be_opened(one, now)],
        anew=[one for one in older if _can_be_opened(one, now) and aftercare.issued(one, now=now) is None],
    )


def _can_be_opened(session: Session, now: datetime) -> bool:
    return purposes.get(HOW_ARE_YOU).window(session.pk, now) is not None
