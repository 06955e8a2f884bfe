"""Papers that came in, under their SHA-256: the very bytes that were handed over, never drawn or changed."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings

from clinic.documents import files_once
from clinic.documents.models import IncomingPaper, MediaType
from clinic.documents.models.incoming import ENDINGS


def path_of(sha256: str, media_type: str) -> Path:
    return Path(settings.FILES_DIR) / "incoming" / sha256[:2] / f"{sha256}.{ENDINGS[MediaType(media_type)]}"


def referenced(using: str) -> Iterator[tuple[str, str]]:
    """Every file that a row names; once, although two patients may have been sent the same one."""
    rows = IncomingPaper.objects.using(using).order_by().values_list("sha256", "media_type").distinct()
    for sha256, media_type in rows.iterator():
        yield sha256, str(path_of(sha256, media_type).relative_to(settings.FILES_DIR))


def keep(content: bytes, media_type: str) -> str:
    """On the disk for good before any row names it."""
    sha256 = hashlib.sha256(content).hexdigest()
    files_once.write(path_of(sha256, media_type), content)
    return sha256


def read(paper: IncomingPaper) -> bytes:
    """Raises FileLost or FileAltered."""
    return files_once.read(path_of(paper.sha256, paper.media_type), paper.sha256)
