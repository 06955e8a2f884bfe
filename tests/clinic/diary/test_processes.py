"""Desks as real processes on a database of their own: they race for the same times."""

import statistics
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.clinic.diary.processes import HEAD_START_SECONDS, Home, a_home, answer_of

PROCESSES = 8
pytestmark = pytest.mark.timeout(4 * 3600)


@pytest.fixture
def home(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Home]:
    yield from a_home(tmp_path, request)


def test_two_desks_and_one_slot(home: Home) -> None:
    """Three patients for two rooms at nine: two get it, the third is told so, with the next openings."""
    home.run("prepare", 3)
    starts_at = time.time() + HEAD_START_SECONDS
    told = [answer_of(desk) for desk in [home.start("duel", number, starts_at) for number in range(3)]]
    assert Counter(one["said"] for one in told) == {
        "booked": 2,
        "That time has just been taken. Pick one of the next free times.": 1,
    }
    assert [one["next"] for one in told if one["next"]] == [["09:45", "10:00", "10:15"]]
    assert home.run("look") == {"overlaps": 0, "bookings": 2, "claimed": 2, "both": 0, "idle": 0}


def contend(home: Home, attempts: int) -> dict[str, Any]:
    """Eight desks and patients by link book, hold, pick, move and cancel on two days that all of them want."""
    home.run("prepare", 40)
    starts_at = time.time() + HEAD_START_SECONDS
    each = attempts // PROCESSES
    racers = [home.start("race", seed, each, 2, starts_at) for seed in range(PROCESSES)]
    answers = [answer_of(racer) for racer in racers]
    outcomes: Counter[str] = Counter()
    for answer in answers:
        outcomes.update(answer["outcomes"])
    took = sorted(second for answer in answers for second in answer["took"])
    return {
        "attempts": len(took),
        "outcomes": dict(outcomes),
        "p95_ms": round(statistics.quantiles(took, n=20)[-1] * 1000),
        "longest_ms": round(took[-1] * 1000),
        **home.run("look"),
    }


def held_together(found: dict[str, Any]) -> None:
    assert (found["overlaps"], found["both"]) == (0, 0)
    # Every visit that stands holds its resources, and nothing else does.
    assert (found["bookings"], found["idle"]) == (found["claimed"], 0)
    assert set(found["outcomes"]) <= {
        "done",
        "diary.slot_taken",
        "diary.no_opening",
        "diary.patient_busy",
        "diary.not_possible_now",
        "diary.hold_ended",
        "diary.pencil_ended",
        # A desk that moves or cancels a visit while another one does.
        "diary.changed_meanwhile",
        # A patient by link, where the desk was quicker or only the practice moves it.
        "diary.booked_already",
        "diary.call_us",
        "diary.invitation_over",
    }
    # Some came through and some did not: otherwise nothing was contended.
    assert min(found["outcomes"]["done"], found["outcomes"]["diary.slot_taken"]) > 0


@pytest.mark.soak
def test_many_desks_at_once(home: Home, pytestconfig: pytest.Config, note: Callable[..., None]) -> None:
    """Hundreds of attempts each time, a hundred thousand in `make soak`."""
    soak = bool(pytestconfig.getoption("--soak"))
    attempts = 100_000 if soak else 320
    found = contend(home, attempts)
    held_together(found)
    note(**found)
    assert found["attempts"] == attempts


def test_the_guard_is_there_again_after_a_migration_has_remade_the_table(home: Home) -> None:
    home.run("prepare", 1)
    home.run("duel", 0, 0)
    assert home.run("guard") == "refused"
    home.run("remake")
    if home.vendor == "sqlite":
        assert home.run("guard") == "taken", "the table was not remade, so nothing is proved"
    home.manage("migrate", "--verbosity=0")
    assert home.run("guard") == "refused"
