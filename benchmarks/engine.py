"""A worker with two processes on a Redis of its own, as a practice runs it: how long it takes for what is put there."""

import contextlib
import os
import signal
import socket
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scripts import processes
from scripts.supervisor import Child, Supervisor
from tests import mailserver

ROOT = Path(__file__).resolve().parent.parent
PRODUCT = "clinic.config.celery"


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    worker: Child
    queue: Any
    # Where tasks are put.
    address: str

    def drain(self, put: Callable[[], object]) -> float:
        """Seconds for a full queue: put there while the worker is frozen."""
        self.worker.send(signal.SIGSTOP)
        put()
        began = time.perf_counter()
        self.worker.send(signal.SIGCONT)
        self.wait_until_empty()
        return time.perf_counter() - began

    def wait_until_empty(self) -> None:
        while self.queue.llen("celery") or self.queue.hlen("unacked"):
            # Two cores: whoever looks more often takes from those who work.
            time.sleep(0.02)


@contextmanager
def engine(home: Path, *, app: str, name_of_broker: str, env: Mapping[str, str]) -> Iterator[Engine]:
    """The worker of this Celery application, which finds its broker under that name in its environment."""
    port = mailserver.free_port()
    address = f"redis://127.0.0.1:{port}/0"
    worker = [app if word == PRODUCT else word for word in processes.worker()]
    children = [
        Child(name="redis", command=processes.redis(port=port, folder=home), log=home / "redis.log"),
        Child(name="worker", command=worker, log=home / "worker.log"),
    ]
    with Supervisor(env={**os.environ, **env, name_of_broker: address}, cwd=ROOT, children=children):
        wait_for(port)
        import redis  # noqa: PLC0415

        yield Engine(worker=children[1], queue=redis.Redis(port=port), address=address)


def wait_for(port: int) -> None:
    for _ in range(400):
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
            return
        time.sleep(0.05)
    raise TimeoutError(f"nobody answers at {port}")
