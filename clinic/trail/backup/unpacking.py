"""Taking an archive apart; every byte is digested as it comes out."""

import hashlib
import tarfile
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO, cast

from clinic.trail.backup.facts import Manifest, manifest_from
from clinic.trail.backup.sealed import ArchiveUnreadable, SealedReader

CHUNK_BYTES = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Unpacked:
    folder: Path
    manifest: Manifest
    # Of every file as it came out of the archive.
    sha256: dict[str, str]

    def differing(self) -> list[str]:
        """Names whose bytes are not those of the manifest, on either side."""
        names = sorted(self.sha256.keys() | self.manifest.sha256.keys())
        return [name for name in names if self.sha256.get(name) != self.manifest.sha256.get(name)]


def unpack(archive: Path, folder: Path) -> Unpacked:
    for part in (folder, folder / "files", folder / "anchors"):
        part.mkdir(mode=0o700, parents=True, exist_ok=True)
    with archive.open("rb") as file:
        reader = SealedReader(file)
        try:
            with tarfile.open(mode="r|", fileobj=cast(IO[bytes], reader)) as tar:
                digests = {member.name: _extract(tar, member, folder) for member in tar}
        except tarfile.TarError as error:
            raise ArchiveUnreadable("The archive is damaged.") from error
        reader.drain()
    try:
        manifest = manifest_from((folder / "manifest.json").read_bytes())
    except (FileNotFoundError, KeyError, TypeError, ValueError) as error:
        raise ArchiveUnreadable("The archive holds no manifest that can be read.") from error
    digests.pop("manifest.json")
    return Unpacked(folder=folder, manifest=manifest, sha256=digests)


def _extract(tar: tarfile.TarFile, member: tarfile.TarInfo, folder: Path) -> str:
    source = tar.extractfile(member) if member.isreg() else None
    name = PurePosixPath(member.name)
    # Ours hold plain files below the folder; anything else was not made by `backup`.
    if source is None or name.is_absolute() or ".." in name.parts:
        raise ArchiveUnreadable(f"The archive holds {member.name!r}, which no backup of ours holds.")
    target = folder / name
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with target.open("xb") as file:
        while data := source.read(CHUNK_BYTES):
            digest.update(data)
            file.write(data)
    target.chmod(0o600)
    return digest.hexdigest()
