"""Desks as real processes on a database of their own: they race for the same times."""

import statistics
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests import postgres
from tests.apart import Home, a_home

# Booking attempts of `make soak`; a twentieth of them in `make test`.
ATTEMPTS = {"postgres": 100_000, "sqlite": 20_000}
TAKEN = "That time has just been taken. Pick one of the next free times."
pytestmark = pytest.mark.timeout(4 * 3600)


@pytest.fixture
def home(vendor: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Home]:
    yield from a_home("tests.clinic.diary.racing", vendor, tmp_path, request)


def test_two_desks_and_one_slot(home: Home) -> None:
    """Three patients for two rooms at nine: two get it, the third is told so, with the next openings."""
    found = home.run("duel", 3)
    told = sorted(found.pop("told"), key=lambda one: bool(one["next"]))
    booked = {"status": 302, "said": "booked", "next": []}
    assert told == [booked, booked, {"status": 409, "said": TAKEN, "next": ["09:45", "10:00", "10:15"]}]
    assert found == {"overlaps": 0, "bookings": 2, "claimed": 2, "both": 0, "idle": 0}


def contend(home: Home, attempts: int) -> dict[str, Any]:
    """Eight desks and patients by link book, hold, pick, move and cancel on two days that all of them want."""
    found = home.run("contend", 40, attempts, 2)
    took = found.pop("took")
    return {
        "attempts": len(took),
        "server_errors": sum(times for said, times in found["outcomes"].items() if said.startswith("server error")),
        "losers": sum(times for said, times in found["outcomes"].items() if said in TIME_GONE),
        "p95_ms": round(statistics.quantiles(took, n=20)[-1] * 1000),
        "longest_ms": round(took[-1] * 1000),
        **found,
    }


# Whoever was told so got the next openings: without them it counts as another outcome.
TIME_GONE = {"diary.slot_taken", "diary.no_opening", "diary.hold_ended"}


def held_together(found: dict[str, Any]) -> None:
    assert (found["overlaps"], found["both"], found["server_errors"]) == (0, 0, 0), found["outcomes"]
    # Every visit that stands holds its resources, and nothing else does.
    assert (found["bookings"], found["idle"]) == (found["claimed"], 0)
    assert set(found["outcomes"]) <= TIME_GONE | {
        "done",
        "diary.patient_busy",
        "diary.not_possible_now",
        # A desk that moves or cancels a visit while another one does.
        "diary.changed_meanwhile",
        "diary.pencil_ended",
        # A patient by link, where the desk was quicker or only the practice moves it.
        "diary.booked_already",
        "diary.call_us",
        "diary.invitation_over",
    }
    # Some came through and some did not: otherwise nothing was contended.
    assert min(found["outcomes"]["done"], found["outcomes"]["diary.slot_taken"]) > 0


@pytest.mark.soak
def test_many_desks_at_once(home: Home, size: Callable[[int], int], note: Callable[..., None]) -> None:
    attempts = size(ATTEMPTS[home.vendor])
    found = contend(home, attempts)
    held_together(found)
    note(**found)
    assert found["attempts"] == attempts


def test_each_has_locked_what_the_other_wants(home: Home, request: pytest.FixtureRequest) -> None:
    if home.vendor == "sqlite":
        pytest.skip("SQLite has one lock for all: whoever writes waits for the one before")
    cluster: postgres.Cluster = request.getfixturevalue("postgres_cluster")
    stepping = replace(home, program="tests.clinic.diary.stepping")
    found = stepping.run(cluster.home, home.name)
    assert found["steps"] == [
        "the other holds a resource",
        "we hold Patient",
        # Once more, as for every visit: whoever takes it in from a page of the diary holds it already.
        "we hold Patient",
        "the other waits for the patient",
        "DeadlockDetected",
        "TUPLES_OK",
    ]
    assert found["told"] == {"status": 409, "said": TAKEN, "next": ["09:00", "09:15", "09:30"]}
    assert found["changed"] == []
    # The other one is through with it, and so are we at the second press.
    assert found["again"]["said"] == "booked"
    assert (found["rows"], found["booked"]) == ([1, 3], 1)
    assert (found["overlaps"], found["claimed"], found["idle"]) == (0, 1, 0)


def test_a_desk_cancels_while_somebody_notes_that_the_patient_has_died(home: Home) -> None:
    """Neither waits for what the other one holds: each of them goes on to its end."""
    if home.vendor == "sqlite":
        pytest.skip("SQLite has one lock for all: whoever writes waits for the one before")
    assert home.run("death") == {"waited": [False], "status": "cancelled", "died": True, "open": 0}


def test_the_guard_is_there_again_after_a_migration_has_remade_the_table(home: Home) -> None:
    # SQLite drops the triggers of a table that it builds anew; PostgreSQL alters the table where it stands.
    remade = "taken" if home.vendor == "sqlite" else "refused"
    assert home.run("guard") == ["refused", remade, "refused"]
