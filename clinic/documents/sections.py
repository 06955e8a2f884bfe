"""Who may read which paper, and what the patient's page says of them: issued ones, and those that came in."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.documents.models import IncomingPaper, IssuedDocument, PaperKind
from clinic.patients.hints import Section
from clinic.patients.models import Patient

SHOWN = 20
CLINICAL = (Capability.CLINICAL_DOCUMENTS_READ, Capability.ANSWERS_READ)
# A signed consent is the consent itself: whoever may read the one may read the other.
_OF_CONSENT = (Capability.CLINICAL_DOCUMENTS_READ, Capability.CONSENT_READ)


def readable(document: IssuedDocument, user: User) -> bool:
    """At the document's own site; whether the person belongs to that site is asked before."""
    needed = (Capability.DOCUMENTS_READ, *(CLINICAL if document.is_clinical else ()))
    return all(may(user, capability, document.site) for capability in needed)


def may_open(paper: IncomingPaper, user: User) -> bool:
    """Whatever came in counts as clinical: nobody knows what stands in it before it was read."""
    needed = _OF_CONSENT if paper.kind == PaperKind.CONSENT else CLINICAL
    return all(may(user, capability, paper.site) for capability in needed)


@dataclass(frozen=True, slots=True)
class CameIn:
    """The papers that this person may open, and how many more there are."""

    papers: tuple[IncomingPaper, ...] = ()
    others: int = 0


def came_in(papers: Iterable[IncomingPaper], user: User) -> CameIn:
    held = list(papers)
    opened = tuple(paper for paper in held if may_open(paper, user))
    return CameIn(opened, len(held) - len(opened))


def _context(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    user = request.user
    if not isinstance(user, User):
        return {"documents": [], "came_in": CameIn(), "may_file": False, "patient": patient}
    issued = IssuedDocument.objects.visible_to(user).filter(patient=patient).select_related("site")
    incoming = IncomingPaper.objects.visible_to(user).filter(patient=patient).select_related("site", "filed_by")
    return {
        "documents": [document for document in issued[:SHOWN] if readable(document, user)],
        "came_in": came_in(incoming[:SHOWN], user),
        "may_file": may(user, Capability.PAPERS_FILE, patient.site),
        "patient": patient,
    }


SECTION = Section(code="documents", template="documents/_of_patient.html", context=_context)
