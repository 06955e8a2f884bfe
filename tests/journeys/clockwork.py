"""Moves a world's demo clock, as the demo's own page does, but to any moment.

Only the row is written: what falls due is found by that world's own beat and worker. As a process in that
world it reads moments from its input, one a line; after a `swept` it waits until they have come round, so
that a mail which has not arrived by then was not due.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta

import django

from tests.world import ROOT, World

# Every process reads the clock's row at most once a second; two workers may each be busy with an older tick.
STALE_SECONDS = 1.2
ROUNDS = 3
WAIT_SECONDS = 180


@dataclass(frozen=True)
class Clockwork:
    process: "subprocess.Popen[str]"

    def show(self, at: datetime, *, swept: bool) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        print(at.isoformat(), "swept" if swept else "set", file=self.process.stdin, flush=True)
        assert self.process.stdout.readline() == "shown\n"


@contextmanager
def running(world: World) -> Iterator[Clockwork]:
    command = [sys.executable, "-m", "tests.journeys.clockwork"]
    with subprocess.Popen(
        command, cwd=ROOT, env=world.env, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        try:
            yield Clockwork(process)
        finally:
            process.terminate()


def main() -> None:
    django.setup()
    for line in sys.stdin:
        at, how = line.split()
        began_at = show(datetime.fromisoformat(at))
        time.sleep(STALE_SECONDS)
        if how == "swept":
            wait_for_sweeps(since=began_at + timedelta(seconds=STALE_SECONDS))
        sys.stdout.write("shown\n")
        sys.stdout.flush()


def show(at: datetime) -> datetime:
    from clinic.trail.clock import real_now  # noqa: PLC0415  (Django must be set up first)
    from whitening.demo.models import DemoClock  # noqa: PLC0415

    now = real_now()
    DemoClock.objects.update_or_create(pk=1, defaults={"shift": at - now, "moved_at": now, "moved_by": "a test"})
    return now


def wait_for_sweeps(*, since: datetime) -> None:
    from clinic.messages.health import SWEEP  # noqa: PLC0415
    from clinic.messages.models import Heartbeat  # noqa: PLC0415

    seen: set[datetime] = set()
    deadline = time.monotonic() + WAIT_SECONDS
    while len(seen) < ROUNDS:
        if time.monotonic() > deadline:
            sys.exit(f"The worker has not swept {ROUNDS} times within {WAIT_SECONDS} s.")
        beat_at = Heartbeat.objects.filter(name=SWEEP).values_list("beat_at", flat=True).first()
        seen |= {beat_at} if beat_at and beat_at > since else set()
        time.sleep(0.2)


if __name__ == "__main__":
    main()
