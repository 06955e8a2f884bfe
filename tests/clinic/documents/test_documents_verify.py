"""The command that checks every kept file: it says how many, names each that is not as it was, and fails then."""

import hashlib
import os
import tracemalloc
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError

from clinic.documents import archive
from clinic.documents.verifying import State, verified
from clinic.trail.backup import files
from tests.cast import Cast
from tests.clinic.documents.slips import slip


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "FILES_DIR", tmp_path)


def kept(number: int) -> list[tuple[str, str]]:
    """Named by a look-up as the rows would name them."""
    names = [archive.keep(b"%%PDF %d" % each) for each in range(number)]
    return [(sha256, str(archive.path_of(sha256).relative_to(settings.FILES_DIR))) for sha256 in names]


def run(*, fails: bool = False) -> list[str]:
    said = StringIO()
    if fails:
        with pytest.raises(CommandError, match="Bring them back from a backup"):
            call_command("documents_verify", stdout=said)
    else:
        call_command("documents_verify", stdout=said)
    return said.getvalue().splitlines()


@pytest.fixture
def named(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, str]]:
    found = kept(25)
    monkeypatch.setattr(files, "_lookups", {"documents": lambda _using: iter(found)})
    return found


def test_all_as_they_were(named: list[tuple[str, str]]) -> None:
    said = run()
    size = sum(archive.path_of(sha256).stat().st_size for sha256, _path in named)
    assert said[-2:] == [
        f"Files checked: 25 ({size / 1_000_000:.1f} MB). Genuine 25, altered 0, missing 0, cannot be read 0.",
        "✓ All kept files are as they were.",
    ]
    # In a log, a line at each tenth.
    assert said[:-2] == [f"{done} of 25" for done in range(2, 25, 2)]


def test_each_fault_has_its_line(named: list[tuple[str, str]]) -> None:
    paths = [archive.path_of(sha256) for sha256, _path in named]
    paths[3].unlink()
    paths[7].write_bytes(paths[7].read_bytes() + b" ")
    paths[11].write_bytes(b"")
    # What waits for ever when it is read: a pipe in the place of a file; and a folder.
    for place, make in ((13, os.mkfifo), (15, os.mkdir)):
        paths[place].unlink()
        make(paths[place])
    said = run(fails=True)
    assert sorted(line for line in said if line.startswith("✗")) == sorted([
        f"✗ missing: {named[3][1]}",
        *(f"✗ altered: {named[place][1]}" for place in (7, 11, 13, 15)),
    ])  # fmt: skip
    assert said[-1].startswith("Files checked: 25 (")
    assert said[-1].endswith("Genuine 20, altered 4, missing 1, cannot be read 0.")


def test_a_file_that_cannot_be_read_says_why(named: list[tuple[str, str]], monkeypatch: pytest.MonkeyPatch) -> None:
    opened = Path.open

    def refused(path: Path, *args: object, **more: object) -> object:
        if path == archive.path_of(named[0][0]):
            raise PermissionError(13, "Permission denied")
        return opened(path, *args, **more)  # type: ignore[call-overload]  # handed on as it came

    monkeypatch.setattr(Path, "open", refused)
    said = run(fails=True)
    assert f"✗ cannot be read: {named[0][1]} (Permission denied)" in said


def test_nothing_kept_is_nothing_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "_lookups", {})
    assert run()[0].startswith("Files checked: 0 (0.0 MB).")


def test_however_large_it_is_read_in_pieces(tmp_path: Path) -> None:
    content = bytes(8 * 1024 * 1024)
    (tmp_path / "large").write_bytes(content)
    sha256 = hashlib.sha256(content).hexdigest()
    del content
    tracemalloc.start()
    try:
        [checked] = verified([(sha256, "large")], folder=tmp_path)
        _now, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert (checked.state, checked.bytes_read) == (State.GENUINE, 8 * 1024 * 1024)
    assert most < 3 * 1024 * 1024


@pytest.mark.django_db
def test_what_the_database_names(cast: Cast) -> None:
    document = slip(cast)
    assert "Genuine 1, altered 0" in run()[-2]
    path = archive.path_of(document.sha256)
    damaged = bytearray(path.read_bytes())
    damaged[len(damaged) // 2] ^= 1
    path.write_bytes(bytes(damaged))
    assert any(line.startswith("✗ altered: documents/") for line in run(fails=True))
