"""The two clocks: real time, and the time the practice lives in (shifted in the demo only).

Both are read at the edge alone (a view, a command, a task); rules and actions are given the time.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import cast
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils.module_loading import import_string


def real_now() -> datetime:
    """What sign-in, brute-force limits and the trail go by."""
    return datetime.now(tz=UTC)


def shift() -> timedelta:
    """How far the practice's clock runs ahead; zero wherever no shift is configured."""
    if not settings.CLOCK_SHIFT:
        return timedelta(0)
    # Named by a dotted path: this part may not import the demo, and production has no demo to import.
    reader = cast(Callable[[], timedelta], import_string(settings.CLOCK_SHIFT))
    return reader()


def now() -> datetime:
    return real_now() + shift()


def local(at: datetime, timezone: str | ZoneInfo) -> datetime:
    """The same instant on the wall clock of a site."""
    return at.astimezone(ZoneInfo(timezone) if isinstance(timezone, str) else timezone)
