from clinic.documents.models.incoming import (
    IncomingPaper,
    IncomingPaperQuerySet,
    MediaType,
    PaperKind,
    PaperMistake,
)
from clinic.documents.models.issued import IssuedDocument, IssuedDocumentQuerySet
from clinic.documents.models.tries import CheckTries

__all__ = [
    "CheckTries",
    "IncomingPaper",
    "IncomingPaperQuerySet",
    "IssuedDocument",
    "IssuedDocumentQuerySet",
    "MediaType",
    "PaperKind",
    "PaperMistake",
]
