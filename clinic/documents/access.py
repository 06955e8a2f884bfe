"""The one door to an issued document, and the one to a paper that came in."""

from clinic.accounts.access import one_of
from clinic.accounts.models import User
from clinic.accounts.rights import Capability
from clinic.documents.models import IncomingPaper, IssuedDocument


def access_document(*, user: User, pk: int, to: Capability) -> IssuedDocument:
    rows = IssuedDocument.objects.visible_to(user).select_related("site", "patient")
    return one_of(rows, user=user, pk=pk, to=to)


def access_paper(*, user: User, pk: int, to: Capability) -> IncomingPaper:
    rows = IncomingPaper.objects.visible_to(user).select_related("site", "patient", "mistake")
    return one_of(rows, user=user, pk=pk, to=to)
