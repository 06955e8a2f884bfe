"""One file written once: whole or not at all, there for good before any row names it, checked at every reading."""

import hashlib
import os
from pathlib import Path
from uuid import uuid4

from clinic.documents.failures import FileAltered, FileLost


def write(path: Path, content: bytes) -> None:
    if path.exists() and path.read_bytes() == content:
        return
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    waiting = path.with_name(f".{uuid4().hex}.tmp")
    try:
        _write(waiting, content)
        waiting.replace(path)
    finally:
        waiting.unlink(missing_ok=True)
    # The name, too, must survive a power cut, and its folder's name in the folder above.
    for folder in (path.parent, path.parent.parent):
        _settle(folder)


def read(path: Path, sha256: str) -> bytes:
    """Raises FileLost or FileAltered."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise FileLost from None
    if hashlib.sha256(content).hexdigest() != sha256:
        raise FileAltered
    return content


def _write(path: Path, content: bytes) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _settle(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
