"""When a worker ends by itself: its processes share a queue, and one of them was killed."""

import signal
from threading import Event
from types import SimpleNamespace

import pytest
from celery.worker import state

from clinic.config.celery import app
from clinic.config.stuck_pool import EndsWithItsProcesses


@pytest.fixture
def left(monkeypatch: pytest.MonkeyPatch) -> Event:
    """Set instead of ending the process that runs the tests."""
    gone = Event()
    monkeypatch.setattr("os._exit", lambda _code: gone.set())
    monkeypatch.setattr(state, "should_stop", None)
    return gone


def started(*, listens: bool, pool: object) -> object:
    worker = SimpleNamespace(use_eventloop=listens, pool=SimpleNamespace(_pool=pool))
    EndsWithItsProcesses(worker).start(worker)
    return pool


def test_every_worker_watches() -> None:
    assert EndsWithItsProcesses in app.steps["worker"]


def test_one_that_listens_or_has_no_processes_is_left_alone() -> None:
    assert not hasattr(started(listens=True, pool=SimpleNamespace()), "on_process_down")
    assert started(listens=False, pool=None) is None


@pytest.mark.parametrize("code", [0, 1, -signal.SIGTERM])
def test_a_process_that_ended_otherwise_changes_nothing(left: Event, code: int) -> None:
    pool = SimpleNamespace()
    started(listens=False, pool=pool)
    pool.on_process_down(SimpleNamespace(exitcode=code))
    assert not left.wait(0.3)
    assert state.should_stop is None


def test_one_that_was_killed_ends_the_worker_when_the_others_have_finished(
    left: Event, monkeypatch: pytest.MonkeyPatch
) -> None:
    pool, at_work = SimpleNamespace(), {"a request"}
    monkeypatch.setattr(state, "active_requests", at_work)
    started(listens=False, pool=pool)
    pool.on_process_down(SimpleNamespace(exitcode=-signal.SIGKILL))
    assert not left.wait(0.3)
    assert str(state.should_stop) == "1"
    at_work.clear()
    assert left.wait(10)
