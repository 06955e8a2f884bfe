"""Backup and restore: everything back, under constant writing; whatever is wrong with it is red."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from pytest_django import DjangoDbBlocker
from pytest_django.fixtures import Settings

from clinic.trail import guards, keys
from clinic.trail.backup import files, restoring
from clinic.trail.backup.engines import Postgresql, TargetNotEmpty, engine
from clinic.trail.backup.restoring import Verdict
from clinic.trail.backup.unpacking import unpack
from tests.clinic.trail.driven import look_up
from tests.clinic.trail.installation import Installation, fresh
from tests.postgres import Cluster

WHOLE = "The archive opens, whole and unaltered"
ROWS = "Every table has its rows, and the head is the same"
FILES = "Every file that is referred to is there"


@pytest.fixture(scope="module")
def place(
    tmp_path_factory: pytest.TempPathFactory, vendor: str, request: pytest.FixtureRequest
) -> Iterator[Installation]:
    """One for this file: 20 entries, each with a stored file. No test here changes its database."""
    cluster: Cluster | None = None
    if vendor == "postgres":
        cluster = request.getfixturevalue("module_cluster")
    with fresh(tmp_path_factory.mktemp("place"), cluster) as installation:
        installation.must_run("write", "20")
        yield installation


@pytest.fixture(scope="module")
def archive(place: Installation) -> Path:
    place.must_run("backup")
    return next((place.home / "backups").glob("*.backup"))


@pytest.fixture
def here(
    place: Installation, settings: Settings, django_db_setup: None, django_db_blocker: DjangoDbBlocker
) -> Iterator[None]:
    """This process checks with the keys of that installation, and knows which files it refers to.

    Not in a transaction of the test's own: those allow no second connection, and a check opens one.
    """
    settings.KEYS_DIR = place.home / "keys"
    known = dict(files._lookups)
    files._lookups.clear()
    files.register("tests", look_up)
    with django_db_blocker.unblock():
        yield
    files._lookups.clear()
    files._lookups.update(known)


def wrong(verdict: Verdict) -> dict[str, str]:
    return {check.what: check.said for check in verdict.checks if not check.holds}


@pytest.mark.usefixtures("here")
def test_it_works(archive: Path) -> None:
    verdict = restoring.check(archive)
    assert wrong(verdict) == {}
    assert len(verdict.checks) == 9
    assert list(Path(settings.VAR_DIR).glob("work-*")) == []


def test_both_commands_say_what_they_did(place: Installation, tmp_path: Path) -> None:
    said = place.must_run("backup", "--to", tmp_path / "elsewhere")
    assert "files 20, head of the trail 20" in said
    assert "The keys are not inside." in said
    (made,) = (tmp_path / "elsewhere").glob("*")
    assert made.stat().st_mode & 0o777 == 0o600
    assert "Good: all of it was restored and compared." in place.must_run("restore", made, "--check")


def test_the_newest_backup_is_checked_when_none_is_named(place: Installation, archive: Path, tmp_path: Path) -> None:
    for hour in ("00", "23"):
        (tmp_path / f"casebook-2026-01-02T{hour}0000Z-abcdef.backup").write_text("no backup")
    newest = tmp_path / "casebook-2026-01-03T000000Z-000000.backup"
    newest.write_bytes(archive.read_bytes())
    # Copied back from elsewhere, it is the oldest file of all.
    os.utime(newest, (0, 0))
    done = place.run("restore", "--check", CASEBOOK_BACKUP_DIR=str(tmp_path))
    assert f"The newest archive: {newest}" in done.stdout
    assert "Good: all of it was restored and compared." in done.stdout


def test_no_backup_at_all_fails_the_check(place: Installation, tmp_path: Path) -> None:
    done = place.run("restore", "--check", CASEBOOK_BACKUP_DIR=str(tmp_path))
    assert (done.returncode, done.stderr) == (1, f"CommandError: There is no backup in {tmp_path}.\n")


def test_a_restore_for_real_names_its_archive(place: Installation, tmp_path: Path) -> None:
    done = place.run("restore", "--into", tmp_path / "new", "--database", "unused")
    assert (done.returncode, "Name the archive to restore." in done.stderr) == (1, True)
    assert not (tmp_path / "new").exists()


def test_an_archive_shows_nothing_of_what_is_inside(archive: Path) -> None:
    content = archive.read_bytes()
    for word in (b"trail_entry", b"manifest", b"tests.noted", settings.FIELD_KEYS[0].encode()):
        assert word not in content


def test_no_key_is_inside(place: Installation, archive: Path, tmp_path: Path) -> None:
    names = unpack(archive, tmp_path / "out").sha256
    assert {name.split("/")[0] for name in names} == {"database", "files", "anchors"}
    held = [path.read_bytes() for path in (place.home / "keys").glob("*.key")]
    everything = b"".join(path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file())
    assert held
    assert [token for token in held if token in everything] == []


@pytest.mark.parametrize("place_in_file", [0.0, 0.1, 0.5, 0.9, 1.0])
@pytest.mark.usefixtures("here")
def test_one_altered_byte_is_red(archive: Path, tmp_path: Path, place_in_file: float) -> None:
    content = bytearray(archive.read_bytes())
    content[int(place_in_file * (len(content) - 1))] ^= 1
    (tmp_path / "altered").write_bytes(content)
    assert list(wrong(restoring.check(tmp_path / "altered"))) == [WHOLE]


@pytest.mark.parametrize("cut", [1, 1_000, -10])
@pytest.mark.usefixtures("here")
def test_a_cut_or_lengthened_archive_is_red(archive: Path, tmp_path: Path, cut: int) -> None:
    content = archive.read_bytes()
    (tmp_path / "cut").write_bytes(content[:-cut] if cut > 0 else content + b"x" * -cut)
    assert list(wrong(restoring.check(tmp_path / "cut"))) == [WHOLE]


@pytest.mark.usefixtures("here")
def test_what_is_no_archive_is_red(tmp_path: Path) -> None:
    (tmp_path / "text").write_text("not a backup")
    assert list(wrong(restoring.check(tmp_path / "text"))) == [WHOLE]
    assert list(wrong(restoring.check(tmp_path / "missing"))) == [WHOLE]


@pytest.mark.usefixtures("here")
def test_another_key_of_the_settings_is_red(archive: Path, settings: Settings) -> None:
    settings.FIELD_KEYS = ["bmV3LWZpZWxkLWtleS1mb3ItdGhlc2UtdGVzdHMtMDE="]
    said = wrong(restoring.check(archive))[WHOLE]
    assert said.endswith("made under a key that CASEBOOK_FIELD_KEYS does not hold.")


@pytest.mark.usefixtures("here")
def test_missing_keys_of_the_values_are_red(archive: Path, settings: Settings, tmp_path: Path) -> None:
    settings.KEYS_DIR = tmp_path
    assert wrong(restoring.check(archive)) == {"Every value has its key": "Keys that are not in KEYS_DIR: 7"}


@pytest.mark.usefixtures("here")
def test_what_a_killed_check_left_behind_is_cleared_after_a_day(archive: Path) -> None:
    left = [Path(settings.VAR_DIR) / name for name in ("work-old", "work-new")]
    for folder in left:
        folder.mkdir()
        (folder / "database").write_text("everything")
    os.utime(left[0], (0, 0))
    restoring.check(archive)
    assert [folder.exists() for folder in left] == [False, True]


@pytest.mark.usefixtures("here")
def test_an_erased_patient_is_no_missing_key(archive: Path, settings: Settings, tmp_path: Path) -> None:
    for path in Path(settings.KEYS_DIR).glob("*.key"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    settings.KEYS_DIR = tmp_path
    keys.destroy(3)
    assert wrong(restoring.check(archive)) == {}


@pytest.mark.usefixtures("here")
def test_a_file_that_is_referred_to_and_lacking_is_red(archive: Path) -> None:
    files.register("more", lambda _using: [("0" * 64, "lost/letter.pdf")])
    assert wrong(restoring.check(archive)) == {FILES: "lost/letter.pdf"}


def test_a_backup_of_a_damaged_store_is_made_and_says_so(place: Installation, tmp_path: Path) -> None:
    victim = next(path for path in (place.home / "files").rglob("*.bin"))
    content = victim.read_bytes()
    victim.write_bytes(content + b"!")
    try:
        done = place.run("backup", "--to", tmp_path)
    finally:
        victim.write_bytes(content)
    assert done.returncode == 1
    assert f"lacking: {victim.relative_to(place.home / 'files')}" in done.stderr
    assert len(list(tmp_path.glob("*.backup"))) == 1


@pytest.mark.usefixtures("here")
def test_lost_rows_are_red(archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As a copy of a live SQLite file would lose them: it opens, passes every integrity check, and lacks rows."""
    facts = engine().facts

    def two_rows_fewer(*args: object) -> object:
        found = facts(args[-1])  # type: ignore[arg-type]
        found.row_counts["trail_entry"] -= 2
        return found

    monkeypatch.setattr(type(engine()), "facts", two_rows_fewer)
    assert wrong(restoring.check(archive)) == {ROWS: "trail_entry: 18 ≠ 20"}


@pytest.mark.usefixtures("here")
def test_a_missing_guard_is_red(archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guards, "_guards", guards._guards | {
        "clinic_trail_accessspool": guards.Guard(table="clinic_trail_accessspool", update=True),
    })  # fmt: skip
    assert "guard_clinic_trail_accessspool_delete" in wrong(restoring.check(archive))["Every guard stands"]


@pytest.mark.usefixtures("here")
def test_a_look_that_breaks_off_is_red(archive: Path) -> None:
    def unreachable(_using: str) -> list[tuple[str, str]]:
        raise OSError("the disk is gone")

    files.register("more", unreachable)
    assert wrong(restoring.check(archive)) == {FILES: "It could not be done: the disk is gone"}


@pytest.mark.usefixtures("here")
def test_missing_programs_are_red(archive: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite needs no programs")
    monkeypatch.setenv("PATH", str(tmp_path))
    said = wrong(restoring.check(archive))["The database is restored"]
    assert said.startswith("It could not be done: pg_restore is not installed.")


def test_a_restore_for_real_lives_on(place: Installation, archive: Path, tmp_path: Path) -> None:
    into, name = tmp_path / "new", f"{Path(place.url).name}_new"
    words: list[str | Path] = ["--into", into, *(["--database", name] if connection.vendor == "postgresql" else [])]
    said = place.must_run("restore", archive, *words)
    assert f"CASEBOOK_FILES_DIR={into / 'files'}" in said
    url = f"{place.url}_new" if connection.vendor == "postgresql" else f"sqlite:///{into / 'casebook.sqlite3'}"
    moved = {
        "CASEBOOK_DATABASE_URL": url,
        "CASEBOOK_FILES_DIR": str(into / "files"),
        "CASEBOOK_TRAIL_ANCHOR_DIR": str(into / "anchors"),
    }
    assert place.run("migrate", "--verbosity=0", **moved).returncode == 0
    assert place.run("write", "3", **moved).returncode == 0
    assert place.run("trail_seal", **moved).returncode == 0
    verified = place.run("trail_verify", "--values", **moved)
    assert (verified.returncode, "is unprovable: 3" in verified.stdout) == (0, True)


def test_a_restore_never_writes_over_anything(archive: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("kept")
    with pytest.raises(TargetNotEmpty):
        restoring.restore(archive, into=tmp_path, database="unused")
    assert (tmp_path / "mine").read_text() == "kept"


@pytest.mark.usefixtures("here")
def test_a_restore_refuses_a_database_with_tables_in_it(archive: Path, tmp_path: Path) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("on SQLite the folder must be empty, and the database lies in it")
    name = engine().passing_name(tmp_path)
    assert wrong(restoring.restore(archive, into=tmp_path / "first", database=name)) == {}
    with pytest.raises(TargetNotEmpty, match=f"The database {name} is not empty."):
        restoring.restore(archive, into=tmp_path / "second", database=name)
    engine().remove(name)
    assert not (tmp_path / "second").exists(), "a slip in the name leaves nothing to clear away"


@pytest.mark.usefixtures("here")
def test_a_role_that_may_create_no_database_is_told_what_to_do(archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no roles")
    with connection.cursor() as cursor:
        cursor.execute("CREATE ROLE casebook_no_more LOGIN")
    modest = Postgresql({**connection.settings_dict, "USER": "casebook_no_more", "NAME": "postgres"})
    monkeypatch.setattr(restoring, "engine", lambda: modest)
    try:
        said = wrong(restoring.check(archive))["The database is restored"]
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DROP ROLE casebook_no_more")
    assert "Run the command as the owner" in said
