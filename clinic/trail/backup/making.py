"""Making a backup: the database first, then the files it refers to, then the heads and the manifest.

In that order every file that the copy of the database names exists already. The keys are not inside:
whoever finds an archive and not the keys has nothing.
"""

import hashlib
import io
import os
import secrets
import shutil
import tarfile
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, cast

from django.conf import settings

from clinic.trail import canonical, durable, sealing
from clinic.trail.backup import files
from clinic.trail.backup.engines import engine
from clinic.trail.backup.facts import Manifest
from clinic.trail.backup.sealed import SealedWriter

# No backup and no check takes this long.
ABANDONED_SECONDS = 24 * 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    path: Path
    manifest: Manifest
    # Files that the database refers to and that are not in FILES_DIR as they should be.
    lacking: tuple[str, ...]


def make(*, target: Path, now: datetime) -> Made:
    sealing.anchor_tick(now)
    target.mkdir(mode=0o700, parents=True, exist_ok=True)
    final = target / f"casebook-{now.astimezone(UTC):%Y-%m-%dT%H%M%SZ}-{secrets.token_hex(3)}.backup"
    with workspace() as work, _whole_file(final) as draft, draft.open("wb") as file:
        base = engine()
        facts = base.snapshot(work / "database")
        # After the snapshot and before the files: each file was stored before its row was committed.
        wanted = list(files.referenced("default"))
        writer = SealedWriter(file)
        with tarfile.open(mode="w|", fileobj=cast(IO[bytes], writer), format=tarfile.PAX_FORMAT) as tar:
            digests = dict(_add_all(tar, work))
            made = Manifest(made_at=canonical.instant(now), vendor=base.vendor, facts=facts, sha256=digests)
            _add(tar, "manifest.json", io.BytesIO(made.as_bytes()), size=len(made.as_bytes()))
        writer.close()
    return Made(path=final, manifest=made, lacking=tuple(lacking(digests, wanted)))


@contextmanager
def workspace() -> Iterator[Path]:
    """Beside the database itself, so that no unencrypted copy lies on the medium of the backups."""
    _clear_abandoned(Path(settings.VAR_DIR))
    with TemporaryDirectory(prefix="work-", dir=settings.VAR_DIR) as name:
        yield Path(name)


def _clear_abandoned(folder: Path) -> None:
    """What a killed backup or check left behind is an unencrypted copy of everything."""
    for left in folder.glob("work-*"):
        if left.stat().st_mtime < time.time() - ABANDONED_SECONDS:
            shutil.rmtree(left)


def lacking(digests: Mapping[str, str], wanted: Iterable[tuple[str, str]]) -> Iterator[str]:
    """What the database refers to and the archive does not hold, or holds with other bytes."""
    return (path for digest, path in wanted if digests.get(f"files/{path}") != digest)


@contextmanager
def _whole_file(final: Path) -> Iterator[Path]:
    """Under its own name only when it is complete and on the disk."""
    draft = final.with_name(f".{final.name}.part")
    try:
        draft.touch(mode=0o600, exist_ok=False)
        yield draft
        with draft.open("rb") as file:
            os.fsync(file.fileno())
        draft.rename(final)
        durable.sync_folder(final.parent)
    finally:
        draft.unlink(missing_ok=True)


def _add_all(tar: tarfile.TarFile, work: Path) -> Iterator[tuple[str, str]]:
    yield "database", _add_file(tar, "database", work / "database")
    for folder, name in ((settings.FILES_DIR, "files"), (settings.TRAIL_ANCHOR_DIR, "anchors")):
        for path in sorted(Path(folder).rglob("*")):
            # A name with a dot in front is a file that is still being written.
            if path.is_file() and not path.is_symlink() and not path.name.startswith("."):
                member = f"{name}/{path.relative_to(folder).as_posix()}"
                yield member, _add_file(tar, member, path)


def _add_file(tar: tarfile.TarFile, name: str, path: Path) -> str:
    with path.open("rb") as file:
        return _add(tar, name, file, size=os.fstat(file.fileno()).st_size)


def _add(tar: tarfile.TarFile, name: str, file: "io.BufferedIOBase", *, size: int) -> str:
    info = tarfile.TarInfo(name)
    info.size, info.mode = size, 0o600
    hashing = _Hashing(file)
    tar.addfile(info, hashing)
    return hashing.digest.hexdigest()


class _Hashing:
    """Digests exactly the bytes that go into the archive, in the same pass."""

    def __init__(self, file: "io.BufferedIOBase") -> None:
        self._file, self.digest = file, hashlib.sha256()

    def read(self, size: int = -1) -> bytes:
        data = self._file.read(size)
        self.digest.update(data)
        return data
