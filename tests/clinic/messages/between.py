"""What somebody changes while a batch is on its way: after it was read, before the next message goes out."""

from collections.abc import Callable

import pytest

from clinic.messages import handover
from clinic.messages.channels.parcel import Handed


def when_the_first_goes_out(monkeypatch: pytest.MonkeyPatch, change: Callable[[], object]) -> None:
    """The whole batch has been read by then."""
    give, changes = handover.hand_over, [change]

    def hand_over(*args: object, **named: object) -> Handed:
        if changes:
            changes.pop()()
        return give(*args, **named)  # type: ignore[arg-type]  # passed on as they came

    monkeypatch.setattr(handover, "hand_over", hand_over)
