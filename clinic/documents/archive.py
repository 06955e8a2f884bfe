"""Files under their SHA-256: written once, checked at every reading, never drawn again for evidence."""

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

from django.conf import settings

from clinic.documents.failures import FileAltered, FileLost
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
    path = path_of(sha256)
    if path.exists() and path.read_bytes() == pdf:
        return sha256
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    waiting = path.with_name(f".{uuid4().hex}.tmp")
    try:
        _write(waiting, pdf)
        waiting.replace(path)
    finally:
        waiting.unlink(missing_ok=True)
    # The name, too, must survive a power cut, and its folder's name in the folder above.
    for folder in (path.parent, path.parent.parent):
        _settle(folder)
    return sha256


def read(sha256: str) -> bytes:
    try:
        pdf = path_of(sha256).read_bytes()
    except FileNotFoundError:
        raise FileLost from None
    if hashlib.sha256(pdf).hexdigest() != sha256:
        raise FileAltered
    return pdf


def _write(path: Path, pdf: bytes) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(pdf)
        file.flush()
        os.fsync(file.fileno())


def _settle(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
