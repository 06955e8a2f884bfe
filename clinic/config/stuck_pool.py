"""A worker whose processes share one queue ends when one of them is killed, and whoever keeps it alive starts it anew.

A process that waits for its next task holds the lock of that queue. Killed there, as for want of memory, it takes the
lock along: no other process gets a task any more, and the worker would live on without doing anything. With a broker
that can be listened to (Redis) each process has a queue of its own, and none of this is needed.
"""

import logging
import os
import signal
import time
from threading import Thread
from typing import Any

from celery import bootsteps
from celery.worker import state

logger = logging.getLogger(__name__)
# As long as a task may take at most (CELERY_TASK_TIME_LIMIT): what another process is at is finished first.
PATIENCE_SECONDS = 90


class EndsWithItsProcesses(bootsteps.StartStopStep):
    requires = ("celery.worker.components:Pool",)

    def start(self, parent: Any) -> None:
        """`parent` is the worker; one that listens watches its processes by itself, and one without any has no pool."""
        pool = getattr(parent.pool, "_pool", None)
        if pool is not None and not parent.use_eventloop:
            pool.on_process_down = _on_process_down


def _on_process_down(process: Any) -> None:
    if process.exitcode == -signal.SIGKILL:
        logger.error("a process of this worker was killed: the worker ends, to be started anew")
        # The exit code. It takes no more tasks, and ends by itself where the lock is free: the process was at work.
        state.should_stop = 1  # type: ignore[assignment]
        Thread(target=_leave, daemon=True).start()


def _leave() -> None:
    until = time.monotonic() + PATIENCE_SECONDS
    while state.active_requests and time.monotonic() < until:
        time.sleep(0.1)
    # Not the usual way out, which would wait for processes that wait for the lock. They end with this one.
    os._exit(1)
