"""Waiting for the writer's turn on SQLite: taken when it is free, given up in time, asked for sooner by who waits."""

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.db import OperationalError
from django.db.utils import ConnectionHandler
from hypothesis import given
from hypothesis import strategies as st

from clinic.config.sqlite.base import FIRST_PAUSE, LAST_PAUSE, DatabaseWrapper, pause

# Without this mark no database may be opened at all, this one included.
pytestmark = pytest.mark.django_db
PATIENCE = 0.4


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A database with one table, written by nobody."""
    where = tmp_path / "turns.sqlite3"
    with sqlite3.connect(where) as plain:
        plain.executescript("PRAGMA journal_mode = WAL; CREATE TABLE visit (who TEXT);")
    return where


@contextmanager
def opened(path: Path, *, patience: float = PATIENCE) -> Iterator[DatabaseWrapper]:
    options = {"transaction_mode": "IMMEDIATE", "timeout": patience}
    given = {"ENGINE": "clinic.config.sqlite", "NAME": str(path), "OPTIONS": options}
    wrapper = ConnectionHandler({"default": given})["default"]
    assert isinstance(wrapper, DatabaseWrapper)
    try:
        yield wrapper
    finally:
        wrapper.close()


def begin(wrapper: DatabaseWrapper) -> None:
    wrapper.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)


def write(wrapper: DatabaseWrapper, who: str) -> None:
    begin(wrapper)
    with wrapper.cursor() as cursor:
        cursor.execute("INSERT INTO visit VALUES (%s)", [who])
    wrapper.commit()
    wrapper.set_autocommit(True)


def usual_wait(wrapper: DatabaseWrapper) -> int:
    with wrapper.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout")
        ((milliseconds,),) = cursor.fetchall()
    return int(milliseconds)


@contextmanager
def somebody_writes(path: Path) -> Iterator[sqlite3.Connection]:
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    try:
        yield other
    finally:
        other.close()


def written(path: Path) -> list[str]:
    with sqlite3.connect(path) as plain:
        return [who for (who,) in plain.execute("SELECT who FROM visit ORDER BY rowid")]


def test_it_begins_when_the_writer_before_has_ended(path: Path) -> None:
    with opened(path) as wrapper, somebody_writes(path) as other:
        other.execute("INSERT INTO visit VALUES ('Bo')")
        ending = threading.Timer(PATIENCE / 4, lambda: other.execute("COMMIT"))
        ending.start()
        write(wrapper, "Ada")
        ending.join()
        assert usual_wait(wrapper) == 1000 * PATIENCE
    assert written(path) == ["Bo", "Ada"]


def test_it_gives_up_in_time_and_has_begun_nothing(path: Path) -> None:
    with opened(path) as wrapper, somebody_writes(path) as other:
        began = time.monotonic()
        with pytest.raises(OperationalError, match="database is locked"):
            write(wrapper, "Ada")
        assert time.monotonic() - began >= PATIENCE
        assert usual_wait(wrapper) == 1000 * PATIENCE
        other.execute("ROLLBACK")
        assert written(path) == []
        write(wrapper, "Ada")
    assert written(path) == ["Ada"]


def test_what_is_wrong_otherwise_is_not_waited_for(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("clinic.config.sqlite.base.time.sleep", lambda _seconds: pytest.fail("waited"))
    with opened(path) as wrapper:
        begin(wrapper)
        with pytest.raises(OperationalError, match="within a transaction"):
            begin(wrapper)


def test_many_at_once_lose_nothing(path: Path) -> None:
    def desk(number: int) -> None:
        with opened(path, patience=20) as wrapper:
            for _ in range(20):
                write(wrapper, str(number))

    desks = [threading.Thread(target=desk, args=[number]) for number in range(4)]
    for one in desks:
        one.start()
    for one in desks:
        one.join()
    assert sorted(written(path)) == sorted(str(number) for number in range(4) for _ in range(20))


@given(waited=st.floats(0, 20), longer=st.floats(0, 20))
def test_whoever_has_waited_longer_asks_no_later(waited: float, longer: float) -> None:
    assert LAST_PAUSE <= pause(waited + longer) <= pause(waited) <= FIRST_PAUSE
    assert pause(0) > pause(0.01) > pause(0.05)
