"""The access log: a read writes a line to a file, the tick brings it in once, an hour seals it."""

import json
import os
import signal
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path
from uuid import UUID

import pytest
from django.conf import settings
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.trail import access, blocks, clock, importing, sealing, spool
from clinic.trail.models import AccessEntry, AccessSeal, AccessSpool
from clinic.trail.report import Report
from clinic.trail.verify import verify
from tests.clinic.trail.writing import STAFF, unguarded
from tests.support import nothing_written

pytestmark = pytest.mark.django_db


def read(subject_id: int | str = 5, **changed: object) -> None:
    told = {"actor": STAFF, "what": "tests.read", "patient_id": 41, "site_id": 2} | changed
    access.note_read(subject=("case", subject_id), **told)  # type: ignore[arg-type]


def bring_in() -> int:
    return importing.import_spool(clock.real_now())


def verified() -> Report:
    return verify(anchor_dir=Path(settings.TRAIL_ANCHOR_DIR))


def test_it_works() -> None:
    read()
    assert AccessEntry.objects.count() == 0
    assert bring_in() == 1
    entry = AccessEntry.objects.get()
    assert (entry.what, entry.actor_kind, entry.actor_id, entry.subject_kind, entry.subject_id) == (
        "tests.read", "staff", "7", "case", "5",
    )  # fmt: skip
    assert (entry.patient_id, entry.site_id, entry.clock_shift_seconds) == (41, 2, 0)
    assert clock.real_now() - entry.at < timedelta(minutes=1)


def test_reading_a_page_asks_the_database_nothing() -> None:
    with CaptureQueriesContext(connection, ) as queries, nothing_written(leave_out=()):  # fmt: skip
        asked = len(queries)
        read()
        assert len(queries) == asked


def test_the_spool_holds_no_name() -> None:
    read()
    assert "Lena" not in spool.files()[0].read_text()
    assert spool.files()[0].stat().st_mode & 0o777 == 0o600


def test_a_second_tick_brings_nothing_in() -> None:
    read()
    assert [bring_in(), bring_in()] == [1, 0]
    read()
    assert bring_in() == 1


def test_an_idle_tick_takes_no_write_lock() -> None:
    read()
    bring_in()
    with CaptureQueriesContext(connection) as queries:
        bring_in()
        sealing.seal(clock.real_now())
    assert [query["sql"] for query in queries if not query["sql"].startswith("SELECT")] == []


def test_a_database_put_back_to_an_older_state_takes_each_line_once() -> None:
    read(1)
    bring_in()
    AccessSpool.objects.update(imported_bytes=0)
    read(2)
    bring_in()
    assert list(AccessEntry.objects.values_list("subject_id", flat=True)) == ["1", "2"]


def test_a_file_of_the_same_name_on_another_machine_is_read_from_its_start() -> None:
    read(1)
    bring_in()
    spool.files()[0].unlink()
    read(2)
    read(3)
    bring_in()
    assert list(AccessEntry.objects.values_list("subject_id", flat=True)) == ["1", "2", "3"]


def test_a_torn_line_costs_no_other_line(caplog: pytest.LogCaptureFixture) -> None:
    read(1)
    with spool.files()[0].open("ab") as file:
        file.write(b'\n{"line": "0123')
    read(2)
    assert bring_in() == 2
    assert "1 damaged lines" in caplog.text


def test_an_unfinished_line_is_left_for_later() -> None:
    read(1)
    whole = spool.files()[0].read_bytes()
    with spool.files()[0].open("ab") as file:
        file.write(whole[:-5].replace(b'"5"', b'"6"'))
    assert bring_in() == 1
    assert bring_in() == 0


@pytest.mark.parametrize(
    "line",
    [b"[]", b"{}", b'"text"', b"\xff\xfe", b'{"line": "zz"}', b'{"line": "' + b"0" * 32 + b'", "at": "soon"}'],
)
def test_a_line_of_another_shape_is_left_out(line: bytes) -> None:
    spool.file_for(clock.real_now()).write_bytes(line + b"\n")
    read()
    assert bring_in() == 1


@pytest.mark.parametrize(
    "changed",
    [
        {"what": "x" * 81},
        {"what": "two\nlines"},
        {"subject_id": "nul\0"},
        {"subject_id": "x" * 65},
        {"patient_id": "41"},
    ],
)
def test_what_the_log_could_not_hold_is_refused_at_once(changed: dict[str, object]) -> None:
    subject_id = str(changed.pop("subject_id", "5"))
    with nothing_written(leave_out=()), pytest.raises((TypeError, ValueError)):
        read(subject_id, **changed)
    assert spool.files() == []


def test_files_through_with_are_cleared_after_two_days() -> None:
    read()
    old = spool.files()[0]
    old.rename(old.with_name(f"access-{clock.real_now() - timedelta(days=3):%Y-%m-%d}.jsonl"))
    read()
    assert bring_in() == 2
    assert [path.name for path in spool.files()] == [old.name]
    assert list(AccessSpool.objects.values_list("file_name", flat=True)) == [old.name]


WRITER = """
import sys, uuid
from pathlib import Path
from clinic.trail import durable
path, told = Path(sys.argv[1]), open(sys.argv[2], "ab", buffering=0)
while True:
    line = uuid.uuid4().hex
    durable.append_line(path, '{"line":"%s","at":"2027-03-01T09:00:00+00:00","clock_shift_seconds":0,'
        '"what":"tests.read","actor_kind":"staff","actor_id":"7","subject_kind":"case","subject_id":"5",'
        '"patient_id":41,"site_id":2}' % line)
    told.write(line.encode() + b"\\n")
"""


def test_nothing_is_lost_or_doubled_when_writers_are_killed(tmp_path: Path) -> None:
    """kill -9 at any moment: a line whose writer went on is there, once."""
    path, brought = spool.file_for(clock.real_now()), 0
    told = [tmp_path / f"told-{number}" for number in range(6)]
    for number in range(0, 6, 2):
        writers = [
            subprocess.Popen([sys.executable, "-c", WRITER, str(path), str(told[number + each])]) for each in (0, 1)
        ]
        wait_for(told[number : number + 2])
        brought += bring_in()
        for writer in writers:
            os.kill(writer.pid, signal.SIGKILL)
            writer.wait()
        brought += bring_in()
    acknowledged = {UUID(line) for file in told for line in file.read_text().split()}
    imported = list(AccessEntry.objects.values_list("line", flat=True))
    assert len(acknowledged) > 30
    assert acknowledged <= set(imported)
    # A writer killed between the line and its note may have left one line more.
    assert len(imported) == len(set(imported)) == brought <= len(acknowledged) + len(told)


def wait_for(files: list[Path]) -> None:
    until = time.monotonic() + 30
    while not all(file.exists() and file.stat().st_size > 33 * 8 for file in files):
        assert time.monotonic() < until, "the writers wrote nothing"
        time.sleep(0.01)


def test_an_importer_that_breaks_off_has_brought_nothing_in(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows and offset are one transaction: between them, everything is taken back."""
    read()

    def power_cut(*_args: object, **_options: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(AccessSpool.objects, "update_or_create", power_cut)
        with nothing_written(leave_out=()), pytest.raises(KeyboardInterrupt):
            bring_in()
    assert bring_in() == 1


def test_blocks_seal_what_came_since_the_last(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(blocks, "BLOCK", 2)
    for subject_id in range(3):
        read(subject_id)
    sealing.anchor_tick(clock.real_now())
    read(4)
    sealing.anchor_tick(clock.real_now())
    assert list(AccessSeal.objects.values_list("row_count", flat=True)) == [2, 1, 1]
    report = verified()
    assert (report.holds, report.accesses_sealed, report.accesses_unsealed) == (True, 4, 0)
    read(5)
    bring_in()
    assert verified().accesses_unsealed == 1


@pytest.mark.parametrize("sql", [
    "UPDATE access_entry SET actor_id = '8' WHERE id = %s",
    "UPDATE access_entry SET patient_id = NULL WHERE id = %s",
    "DELETE FROM access_entry WHERE id = %s",
])  # fmt: skip
def test_a_change_of_a_sealed_access_is_found(sql: str) -> None:
    read(1)
    read(2)
    sealing.anchor_tick(clock.real_now())
    with unguarded("access_entry") as cursor:
        cursor.execute(sql, [AccessEntry.objects.order_by("pk").values_list("pk", flat=True)[0]])
    assert not verified().holds


def test_a_removed_block_shows_against_the_outside_head() -> None:
    read()
    anchor = sealing.anchor_tick(clock.real_now())
    with unguarded("access_entry", "clinic_trail_accessseal") as cursor:
        cursor.execute("DELETE FROM clinic_trail_accessseal")
        cursor.execute("DELETE FROM access_entry")
    sentence = f"the seal of the access log that the outside head of {anchor.at} names is gone or differs"
    assert [str(finding) for finding in verified().findings.kept] == [sentence]


def test_a_line_is_one_json_object() -> None:
    read()
    assert json.loads(spool.files()[0].read_text())["subject_id"] == "5"
