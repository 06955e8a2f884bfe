"""Files under their SHA-256: written once, checked at every reading, never drawn again for evidence."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings

from clinic.documents import files_once
from clinic.documents.models import IssuedDocument


def path_of(sha256: str) -> Path:
    return Path(settings.FILES_DIR) / "documents" / sha256[:2] / f"{sha256}.pdf"


def referenced(using: str) -> Iterator[tuple[str, str]]:
    """Every file that a row names, for backups and for checks of a restored copy."""
    for sha256 in IssuedDocument.objects.using(using).values_list("sha256", flat=True).iterator():
        yield sha256, str(path_of(sha256).relative_to(settings.FILES_DIR))


def keep(pdf: bytes) -> str:
    """On the disk for good before any row names it; a row that is rolled back leaves a file nobody names."""
    sha256 = hashlib.sha256(pdf).hexdigest()
    files_once.write(path_of(sha256), pdf)
    return sha256


def read(sha256: str) -> bytes:
    return files_once.read(path_of(sha256), sha256)
