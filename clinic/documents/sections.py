"""What the patient's page says about documents: those this person may open, the newest first."""

from typing import Any

from django.http import HttpRequest

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.documents.models import IssuedDocument
from clinic.patients.hints import Section
from clinic.patients.models import Patient

SHOWN = 20
CLINICAL = (Capability.CLINICAL_DOCUMENTS_READ, Capability.ANSWERS_READ)


def readable(document: IssuedDocument, user: User) -> bool:
    """At the document's own site; whether the person belongs to that site is asked before."""
    needed = (Capability.DOCUMENTS_READ, *(CLINICAL if document.is_clinical else ()))
    return all(may(user, capability, document.site) for capability in needed)


def _context(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    user = request.user
    if not isinstance(user, User):
        return {"documents": []}
    issued = IssuedDocument.objects.visible_to(user).filter(patient=patient).select_related("site")
    return {"documents": [document for document in issued[:SHOWN] if readable(document, user)]}


SECTION = Section(code="documents", template="documents/_of_patient.html", context=_context)
