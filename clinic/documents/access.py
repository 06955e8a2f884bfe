from django.http import Http404

from clinic.accounts.models import User
from clinic.documents.models import IssuedDocument


def access_document(*, user: User, pk: int) -> IssuedDocument:
    """The document if it belongs to a site of this person; elsewhere it does not exist."""
    document = IssuedDocument.objects.visible_to(user).select_related("site", "patient").filter(pk=pk).first()
    if document is None:
        raise Http404
    return document
