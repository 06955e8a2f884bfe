"""Which entries of a log count: each once, and none that was taken back."""

from collections.abc import Iterable, Sequence

from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.kinds import NEVER_UNDONE, Kind
from whitening.chairside.protocol.payloads import Undo


def once(events: Iterable[Event]) -> list[Event]:
    """In the order of the log; an entry that was sent twice counts as first written."""
    seen: set[str] = set()
    kept = []
    for event in sorted(events, key=lambda each: each.seq):
        if event.client_id not in seen:
            seen.add(event.client_id)
            kept.append(event)
    return kept


def taken_back(events: Sequence[Event]) -> frozenset[int]:
    """Places in the log whose effect an undo removed. An undo of nothing, or of what stays, does nothing."""
    earlier: dict[int, Kind] = {}
    gone: set[int] = set()
    for event in events:
        if isinstance(event.payload, Undo):
            target = earlier.get(event.payload.seq)
            if target is not None and target not in NEVER_UNDONE:
                gone.add(event.payload.seq)
        earlier[event.seq] = event.kind
    return frozenset(gone)


def last_tap(events: Sequence[Event], gone: frozenset[int]) -> tuple[Event, ...]:
    """What one press on Undo takes back: all that the last tap wrote, newest first."""
    standing = [event for event in events if event.seq not in gone and event.kind not in NEVER_UNDONE]
    if not standing:
        return ()
    return tuple(event for event in reversed(standing) if event.tap == standing[-1].tap)
