"""The invented practice: the same for the same seed and day, alive on Today, and with a sound trail."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests import environment, prepared

ROOT = Path(__file__).resolve().parents[3]
A_FEW = ("1", "called", "agreed")


def run(folder: Path, *command: str) -> str:
    values = environment.values(var_dir=folder, database_url=environment.sqlite_url(folder), demo=True)
    kept = {key: value for key, value in os.environ.items() if not key.startswith("CASEBOOK_")}
    call = [sys.executable, "-m", *command]
    done = subprocess.run(call, capture_output=True, text=True, env=kept | values, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    """A migrated database with nobody in it; each load works on a copy of its own."""
    empty = tmp_path / "empty"
    (empty / "static").mkdir(parents=True)
    prepared.database(None, into=empty, name="empty", demo=True)
    return empty


def loaded(empty: Path, name: str, *, seed: int, sizes: tuple[str, ...] = ()) -> dict[str, Any]:
    folder = empty.with_name(name)
    shutil.copytree(empty, folder)
    today = datetime.now(tz=UTC).date().isoformat()
    seen: dict[str, Any] = json.loads(run(folder, "tests.whitening.demo.loading", str(seed), today, *sizes))
    return seen


@pytest.mark.timeout(600)
def test_a_few_lives(empty: Path) -> None:
    """Long ago, a caller, one agreed, one picks, one with a course, one on paper: twice the same, then refused."""
    first = loaded(empty, "first", seed=1, sizes=A_FEW)
    assert first == loaded(empty, "second", seed=1, sizes=A_FEW)
    assert len(first["patients"]) == 6
    assert first["stages"]["closed"] == first["reviews"] == 1
    # Two at the chair and one a month later; and two of whoever was treated this morning.
    assert len(first["shades"]) == 3 + 2 * first["treated_today"]
    assert first["messages"]["visit_pick"] == 1
    assert first["messages"]["two_day_check"] == 1 + first["treated_today"]
    # Of the course two sessions and the review wait for an agreement.
    assert sum(visit.endswith(" proposed") for visit in first["visits"]) >= 3
    assert first["follow_ups"].get("call", 0) == 0
    assert first["from_the_future"] == 0
    # Of a year and more, so that the demo's clock finds them too.
    # Of the morning nobody is left as if they had not come.
    assert first["long_past"] == []
    assert first["holidays"].count("Christmas Day 25 Dec") >= 2
    assert first["on_a_holiday"] == 0
    # Nor does anything wait that was due by noon: whoever opens the demo would see it go out hours late.
    assert first["missed"] == first["late"] == first["lapses_late"] == first["calls_open"] == 0
    # One letter waits to be printed, and it says what the practice wrote itself.
    assert len(first["letters"]) == 1
    assert "green door beside the brook" in first["letters"][0]
    assert "bell at the height" in first["letters"][0]
    assert first["verbs"]["messages.words_written"] == 2
    assert first["again"] == "There is a practice in this database already. Load the demo into an empty one."
    assert first["verified"] == "✓ The trail holds."


@pytest.mark.timeout(3600)
@pytest.mark.skipif("not config.getoption('--soak')")
def test_all_of_it(empty: Path, note: Callable[..., None]) -> None:
    seen, other = loaded(empty, "all", seed=1), loaded(empty, "other", seed=2)
    assert seen["patients"] != other["patients"]
    assert len(seen["patients"]) == len(set(seen["patients"])) == 37
    assert seen["reviews"] >= 10
    assert seen["ahead"] >= 10
    assert {"questions", "agreed", "following_up", "closed"} <= seen["stages"].keys()
    assert sum(seen["follow_ups"].values()) >= 24
    # Looked after: nothing was sent too late, and of the worries only the one of last evening is open.
    assert seen["missed"] == seen["late"] == seen["lapses_late"] == 0
    assert seen["long_past"] == []
    assert len(seen["worries_open"]) == 1 < seen["worries"]
    assert seen["worries_open"] == [str(datetime.now(tz=UTC).date() - timedelta(days=1))]
    note(patients=len(seen["patients"]), visits=len(seen["visits"]), reviews=seen["reviews"])
