"""Time for the loader: every action is given a moment of the past, and the trail notes the shift."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

from clinic.trail.clock import real_now
from whitening.demo import clock


@contextmanager
def living_at(moment: datetime) -> Iterator[datetime]:
    """Inside, the practice's clock shows this moment, in this process alone; nothing is written about it."""
    held = clock.override(moment - real_now())
    try:
        yield moment
    finally:
        clock.put_back(held)
