"""Papers of a case that can be made now, for the person who looks: each is a button on the page of the case."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.documents.models import IssuedDocument
from clinic.documents.sections import CLINICAL
from whitening.cases.models import Case
from whitening.chairside import session_record
from whitening.chairside.models import Session
from whitening.chairside.protocol.events import Event
from whitening.recall import check_letter


@dataclass(frozen=True, slots=True)
class ToPrint:
    url: str
    words: StrOrPromise


def to_print(
    case: Case,
    *,
    sessions: Sequence[Session],
    logs: Mapping[int, Sequence[Event]],
    documents: Sequence[IssuedDocument],
    is_reviewed: bool,
    is_answered: bool,
    user: User,
) -> list[ToPrint]:
    """A session record only where none is listed that is as new as its log."""
    if not may(user, Capability.DOCUMENTS_READ, case.site):
        return []
    reads_clinical = all(may(user, capability, case.site) for capability in CLINICAL)
    closed = [session for session in sessions if session.closed_at is not None]
    found = [] if is_answered or case.closed_at is not None else [_of(case, "question_sheet")]
    if closed:
        found.append(_of(case, "result_letter"))
    if is_reviewed and not _is_final(check_letter.why_not(case)):
        found.append(_of(case, "check_letter"))
    without = [one for one in closed if not _is_recorded(one, logs.get(one.pk, ()), documents)]
    return [*found, *(_records(without) if reads_clinical else ())]


_WORDS: dict[str, StrOrPromise] = {
    "question_sheet": _("Questions on paper (PDF)"),
    "result_letter": _("Letter about the result (PDF)"),
    "check_letter": _("Letter about a dental check (PDF)"),
}


def _of(case: Case, name: str) -> ToPrint:
    return ToPrint(reverse(name, args=[case.pk]), _WORDS[name])


def _is_final(refusal: Exception | None) -> bool:
    """A missing address can be written down, and pressing says so; whoever died or wants no letters gets none."""
    return refusal is not None and not isinstance(refusal, check_letter.NoAddress)


def _is_recorded(session: Session, log: Sequence[Event], documents: Sequence[IssuedDocument]) -> bool:
    written_at = max((event.recorded_at for event in log), default=session.closed_at)
    mine = [one for one in documents if (one.kind, one.subject_id) == (session_record.KIND, str(session.pk))]
    return written_at is not None and any(one.issued_at >= written_at for one in mine)


def _records(closed: Sequence[Session]) -> Iterator[ToPrint]:
    for session in closed:
        words = _("Session record %(number)d (PDF)") % {"number": session.number}
        yield ToPrint(reverse("session_record", args=[session.pk]), words)
