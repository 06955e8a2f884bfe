"""Keeps a few processes alive until it is told to stop.

A worker that lost its broker ends itself (seen with Celery 5.7), so somebody must start it again: here
for the demo and the tests, in a real installation systemd or the container engine.
"""

import contextlib
import os
import signal
import subprocess
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Self

STOP_SECONDS = 10
SOONEST_RESTART_SECONDS = 1.0
LATEST_RESTART_SECONDS = 30.0


@dataclass(kw_only=True)
class Child:
    """One process: how it is started, when it may be started again, and its output."""

    name: str
    command: Sequence[str]
    log: Path
    process: subprocess.Popen[bytes] | None = None
    restarts: int = 0
    wait_seconds: float = SOONEST_RESTART_SECONDS
    started_at: float = 0.0
    not_before: float = 0.0
    # Once fallen it stays away until this is taken back.
    held: bool = False

    def start(self, *, env: Mapping[str, str], cwd: Path) -> None:
        with self.log.open("ab") as log:
            # A session of its own: Ctrl-C reaches the supervisor alone, which then stops all in order.
            self.process = subprocess.Popen(
                self.command, env=env, cwd=cwd, stdout=log, stderr=subprocess.STDOUT, start_new_session=True
            )
        self.started_at = time.monotonic()

    @property
    def alive(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def send(self, number: signal.Signals) -> None:
        """To the whole group: gunicorn and Celery have children of their own."""
        if self.process is not None:
            try:
                os.killpg(self.process.pid, number)
            except ProcessLookupError:
                return


@dataclass(kw_only=True)
class Supervisor:
    env: Mapping[str, str]
    cwd: Path
    children: list[Child]
    # How long they may take to end in order. Tests throw everything away and do not wait.
    stop_seconds: float = STOP_SECONDS
    latest_restart_seconds: float = LATEST_RESTART_SECONDS
    _ending: threading.Event = field(default_factory=threading.Event)
    _keeper: threading.Thread | None = None

    def start(self) -> None:
        for child in self.children:
            # One that runs already was started by whoever handed it over.
            if not child.alive:
                child.start(env=self.env, cwd=self.cwd)
        self._keeper = threading.Thread(target=self._keep, name="supervisor", daemon=True)
        self._keeper.start()

    def _keep(self) -> None:
        while not self._ending.wait(0.2):
            for child in self.children:
                self._look_after(child)

    def _look_after(self, child: Child) -> None:
        now = time.monotonic()
        if child.alive:
            # A minute of life is taken as recovered: the next fall is answered at once again.
            if now - child.started_at > 60:
                child.wait_seconds = SOONEST_RESTART_SECONDS
            return
        if child.held:
            return
        if child.not_before <= child.started_at:
            child.not_before = now + child.wait_seconds
            child.wait_seconds = min(child.wait_seconds * 2, self.latest_restart_seconds)
        elif now >= child.not_before:
            child.send(signal.SIGKILL)  # orphans of the fallen process
            child.restarts += 1
            child.start(env=self.env, cwd=self.cwd)

    def stop(self) -> None:
        self._ending.set()
        if self._keeper is not None:
            self._keeper.join()
        for child in self.children:
            if child.process is not None:
                child.process.terminate()
        deadline = time.monotonic() + self.stop_seconds
        for child in self.children:
            if child.process is not None:
                # Whoever is not gone by then is ended below.
                with contextlib.suppress(subprocess.TimeoutExpired):
                    child.process.wait(max(0.1, deadline - time.monotonic()))
                child.send(signal.SIGKILL)
                child.process.wait()

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *failure: object) -> None:
        self.stop()


def wait_until_told() -> None:
    """Blocks until Ctrl-C or a polite end from outside."""
    told = threading.Event()

    def tell(number: int, frame: FrameType | None) -> None:
        told.set()

    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, tell)
    told.wait()
