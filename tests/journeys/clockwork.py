"""Moves a world's demo clock, as the demo's own page does, but to any moment: `python -m tests.journeys.clockwork AT`.

Only the row is written: what falls due is found by that world's own beat and worker.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import sys
from datetime import datetime

import django


def main() -> None:
    django.setup()
    from clinic.trail.clock import real_now  # noqa: PLC0415  (Django must be set up first)
    from whitening.demo.models import DemoClock  # noqa: PLC0415

    at, now = datetime.fromisoformat(sys.argv[1]), real_now()
    DemoClock.objects.update_or_create(pk=1, defaults={"shift": at - now, "moved_at": now, "moved_by": "a test"})


if __name__ == "__main__":
    main()
