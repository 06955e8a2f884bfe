"""The files themselves: written once, checked whenever they are read."""

import hashlib
import os
from pathlib import Path

import pytest
from django.conf import settings

from clinic.documents import archive
from clinic.documents.failures import FileAltered, FileLost
from clinic.trail.backup import files
from tests.cast import Cast
from tests.clinic.documents.slips import slip

PDF = b"%PDF-1.7 not much of one"


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "FILES_DIR", tmp_path)


def test_what_is_kept_is_read() -> None:
    sha256 = archive.keep(PDF)
    assert sha256 == hashlib.sha256(PDF).hexdigest()
    assert archive.read(sha256) == PDF
    assert archive.path_of(sha256).stat().st_mode & 0o777 == 0o600


def test_keeping_twice_is_keeping_once(tmp_path: Path) -> None:
    sha256 = archive.keep(PDF)
    assert archive.keep(PDF) == sha256
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == [archive.path_of(sha256)]


def test_a_damaged_file_is_not_given_out() -> None:
    sha256 = archive.keep(PDF)
    archive.path_of(sha256).write_bytes(PDF + b" ")
    with pytest.raises(FileAltered):
        archive.read(sha256)


def test_keeping_again_mends_a_damaged_file() -> None:
    sha256 = archive.keep(PDF)
    archive.path_of(sha256).write_bytes(b"")
    archive.keep(PDF)
    assert archive.read(sha256) == PDF


def test_a_lost_file_is_said_to_be_lost() -> None:
    with pytest.raises(FileLost):
        archive.read("0" * 64)


def test_every_single_bit_counts() -> None:
    sha256 = archive.keep(PDF)
    path = archive.path_of(sha256)
    for bit in range(len(PDF) * 8):
        damaged = bytearray(PDF)
        damaged[bit // 8] ^= 1 << bit % 8
        path.write_bytes(bytes(damaged))
        with pytest.raises(FileAltered):
            archive.read(sha256)


def test_a_full_disk_leaves_no_half_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        archive.keep(PDF)
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


@pytest.mark.django_db
def test_a_backup_knows_every_file(cast: Cast) -> None:
    document = slip(cast)
    assert ("documents", archive.referenced) in files._lookups.items()
    [(sha256, path)] = archive.referenced("default")
    assert sha256 == document.sha256
    assert (Path(settings.FILES_DIR) / path).read_bytes() == archive.read(sha256)
