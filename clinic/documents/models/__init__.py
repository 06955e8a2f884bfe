from clinic.documents.models.issued import IssuedDocument, IssuedDocumentQuerySet
from clinic.documents.models.tries import CheckTries

__all__ = ["CheckTries", "IssuedDocument", "IssuedDocumentQuerySet"]
