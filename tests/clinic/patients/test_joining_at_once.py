"""Joining while others work, in processes of their own; and a joined record in a backup."""

import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.apart import ROOT, Home, a_home

pytestmark = pytest.mark.timeout(300)
ROUNDS = 6


@pytest.fixture
def home(vendor: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Home]:
    yield from a_home("tests.clinic.patients.racing", vendor, tmp_path, request)


def test_both_ways_at_once(home: Home) -> None:
    """One is refused because the other was faster; nobody waits in a circle."""
    found = home.run("join", ROUNDS)
    assert found["said"] == [["joined", "patients.joined_already"]] * ROUNDS
    assert found["aliases"] == ROUNDS


def test_a_time_is_given_meanwhile(home: Home) -> None:
    """It is the kept record's then, or it was refused: never a visit of a record that nobody opens."""
    found = home.run("book", ROUNDS)
    assert {said[0] for said in found["said"]} == {"joined"}
    assert {said[1] for said in found["said"]} <= {"booked", "patients.joined_meanwhile"}
    assert found["left_with_an_alias"] == 0


def test_a_backup_brings_it_back(home: Home, vendor: str, tmp_path: Path) -> None:
    made = home.run("joined")
    run(home, "backup")
    archive = next((tmp_path / "backups").glob("*.backup"))
    checked = run(home, "restore", "--check", str(archive))
    assert "Every table has its rows, and the head is the same" in checked
    if vendor == "sqlite":
        run(home, "restore", str(archive), "--into", str(tmp_path / "back"))
        with sqlite3.connect(next((tmp_path / "back").rglob("*.sqlite3"))) as back:
            rows = back.execute("SELECT id, merged_into_id FROM clinic_patients_patient ORDER BY id").fetchall()
        assert (made["alias"], made["kept"]) in rows


def run(home: Home, *words: str) -> str:
    done = subprocess.run(
        [sys.executable, "manage.py", *words], cwd=ROOT, env=home.env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout
