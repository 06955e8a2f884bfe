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


def may_be_undone(event: Event) -> bool:
    """What was recorded on the case's page opened or shut a gate: the chair does not take it back."""
    return event.kind not in NEVER_UNDONE and not event.of_the_case


def undone(events: Sequence[Event]) -> frozenset[int]:
    """Places in the log that an undo named. An undo of nothing, or of what stays, does nothing."""
    earlier: set[int] = set()
    named: set[int] = set()
    for event in events:
        if isinstance(event.payload, Undo) and event.payload.seq in earlier:
            named.add(event.payload.seq)
        if may_be_undone(event):
            earlier.add(event.seq)
    return frozenset(named)


def closing_of(events: Sequence[Event]) -> int | None:
    """The place of the entry that closed the session."""
    return next((event.seq for event in events if event.kind is Kind.CLOSED), None)


def taken_back(events: Sequence[Event], *, closing: int | None) -> frozenset[int]:
    """Those whose effect an undo removed: all but contacts, which stay until they are settled.

    What is written after the closing takes back nothing from before it, or a late entry could open a closed session
    again; of what came late itself, it does.
    """
    contacts = {event.seq for event in events if event.kind is Kind.CONTACT}
    gone = undone(events) - contacts
    if closing is None:
        return gone
    in_time = undone([event for event in events if event.seq < closing])
    return frozenset(seq for seq in gone if seq > closing or seq in in_time)


def last_tap(events: Sequence[Event]) -> tuple[Event, ...]:
    """What one press on Undo takes back: all that the last tap wrote, newest first."""
    gone = undone(events)
    standing = [event for event in events if event.seq not in gone and may_be_undone(event)]
    if not standing:
        return ()
    return tuple(event for event in reversed(standing) if event.tap == standing[-1].tap)
