"""Moves a world's demo clock, as the demo's own page does, but to any moment: `python -m tests.journeys.clockwork AT`.

Only the row is written: what falls due is found by that world's own beat and worker. With `--swept` it
also waits until they have come round, so that a mail which has not arrived by then was not due.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import sys
import time
from datetime import datetime, timedelta

import django

# Every process reads the clock's row at most once a second; two workers may each be busy with an older tick.
STALE = timedelta(seconds=1)
ROUNDS = 3
WAIT_SECONDS = 180


def main() -> None:
    django.setup()
    from clinic.trail.clock import real_now  # noqa: PLC0415  (Django must be set up first)
    from whitening.demo.models import DemoClock  # noqa: PLC0415

    at, now = datetime.fromisoformat(sys.argv[1]), real_now()
    DemoClock.objects.update_or_create(pk=1, defaults={"shift": at - now, "moved_at": now, "moved_by": "a test"})
    if "--swept" in sys.argv:
        wait_for_sweeps(since=now + STALE)


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
