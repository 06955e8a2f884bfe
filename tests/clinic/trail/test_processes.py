"""The trail under several processes at once, on a database of its own."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from clinic.trail.backup.unpacking import unpack
from tests.clinic.trail.installation import Installation, fresh
from tests.postgres import Cluster

WRITERS = 2


@pytest.fixture
def place(tmp_path: Path, vendor: str, request: pytest.FixtureRequest) -> Iterator[Installation]:
    cluster: Cluster | None = None
    if vendor == "postgres":
        cluster = request.getfixturevalue("postgres_cluster")
    with fresh(tmp_path, cluster) as installation:
        yield installation


def written(reports: list[Path]) -> int:
    return sum(int(report.read_text() or 0) if report.exists() else 0 for report in reports)


def wait_for(reports: list[Path], *, count: int) -> None:
    until = time.monotonic() + 60
    while written(reports) < count:
        assert time.monotonic() < until, "the writers stand still"
        time.sleep(0.05)


def test_two_sealers_never_fork_the_chain(place: Installation, tmp_path: Path) -> None:
    reports = [tmp_path / f"written-{number}" for number in range(WRITERS)]
    sealer = place.running("seal until stopped")
    with sealer, place.running("seal until stopped"):
        with place.running("write until stopped", reports[0]), place.running("write until stopped", reports[1]):
            wait_for(reports, count=80)
        place.must_run("trail_anchor")
    said = place.must_run("trail_verify", "--values")
    assert "✓ The trail holds." in said
    assert sum(1 for line in said.splitlines() if "Entries not sealed yet" in line and " 0 " in line) == 1


def test_every_backup_under_a_constant_writer_is_good(place: Installation, tmp_path: Path) -> None:
    report = tmp_path / "written"
    with place.running("write until stopped", report):
        wait_for([report], count=5)
        for number in range(3):
            committed, target = written([report]), tmp_path / f"backup-{number}"
            place.must_run("backup", "--to", target)
            (made,) = target.glob("*.backup")
            assert "Good: all of it was restored and compared." in place.must_run("restore", made, "--check")
            held = unpack(made, tmp_path / f"out-{number}").manifest.facts
            assert held.row_counts["trail_entry"] >= committed
            assert held.head_position >= committed
