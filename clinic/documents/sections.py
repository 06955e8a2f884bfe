"""Who may read which paper, and what the patient's page says of them: issued ones, and those that came in."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.documents import kinds, resting
from clinic.documents.models import IncomingPaper, IssuedDocument, PaperKind
from clinic.patients.hints import Section
from clinic.patients.models import Patient
from clinic.patients.person import of_person

SHOWN = 20
CLINICAL = (Capability.CLINICAL_DOCUMENTS_READ, Capability.ANSWERS_READ)
# What a list of papers that came in is read with.
SHOWN_WITH = ("site", "filed_by", "mistake__marked_by")
# A signed consent is the consent itself: whoever may read the one may read the other.
_OF_CONSENT = (Capability.CLINICAL_DOCUMENTS_READ, Capability.CONSENT_READ)


def readable(document: IssuedDocument, user: User) -> bool:
    """At the document's own site; whether the person belongs to that site is asked before."""
    needed = (Capability.DOCUMENTS_READ, *kinds.read_with(document.kind))
    return all(may(user, capability, document.site) for capability in needed)


def may_open(paper: IncomingPaper, user: User) -> bool:
    """Whatever came in counts as clinical: nobody knows what stands in it before it was read.

    What was filed by mistake is nobody's here: it may be another patient's.
    """
    if paper.is_mistake:
        return False
    if all(may(user, capability, paper.site) for capability in CLINICAL):
        return True
    return all(may(user, capability, paper.site) for capability in _OF_CONSENT) and _is_known_consent(paper, user)


def _is_known_consent(paper: IncomingPaper, user: User) -> bool:
    """Not by the word of whoever scanned it alone: a letter filed under that word would be open to more people.

    To the one who had it in hand; to others once somebody has read it and written down what it says.
    """
    return paper.kind == PaperKind.CONSENT and (paper.filed_by_id == user.pk or resting.on(paper))


@dataclass(frozen=True, slots=True)
class CameIn:
    """The papers that this person may open, how many more there are, and what was filed by mistake."""

    papers: tuple[IncomingPaper, ...] = ()
    others: int = 0
    mistakes: tuple[IncomingPaper, ...] = ()


def came_in(papers: Iterable[IncomingPaper], user: User) -> CameIn:
    held = list(papers)
    standing = [paper for paper in held if not paper.is_mistake]
    opened = tuple(paper for paper in standing if may_open(paper, user))
    return CameIn(opened, len(standing) - len(opened), tuple(paper for paper in held if paper.is_mistake))


def _context(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    user = request.user
    if not isinstance(user, User):
        return {"documents": [], "came_in": CameIn(), "may_file": False, "patient": patient}
    issued = IssuedDocument.objects.visible_to(user).filter(of_person(patient)).select_related("site")
    incoming = IncomingPaper.objects.visible_to(user).filter(of_person(patient)).select_related(*SHOWN_WITH)
    return {
        "documents": [document for document in issued[:SHOWN] if readable(document, user)],
        "came_in": came_in(incoming[:SHOWN], user),
        "may_file": may(user, Capability.PAPERS_FILE, patient.site),
        "patient": patient,
    }


SECTION = Section(code="documents", template="documents/_of_patient.html", context=_context)
