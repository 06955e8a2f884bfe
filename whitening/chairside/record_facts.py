"""What a session amounts to on paper: its cycles, what was stopped and why, and its whole log in words. Pure."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.fold import fold
from whitening.chairside.protocol.history import closing_of, once, taken_back
from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.limits import SessionPlan
from whitening.chairside.protocol.payloads import Payload
from whitening.chairside.protocol.state import MixState, SessionState
from whitening.chairside.told import sentence_of

# A tap is on the server within seconds; an entry that took longer says so. Two minutes is common practice, no source.
LATE = timedelta(minutes=2)
# What did not go as planned, and what was said and done about it.
_STOPPED = frozenset(
    {
        Kind.TAKE_OFF_NOW,
        Kind.TAKE_OFF_REASON,
        Kind.CONTACT,
        Kind.CONTACT_SETTLED,
        Kind.ENDED_EARLY,
        Kind.SKIPPED,
        Kind.WORDS,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleLine:
    """pause: from the gel of the cycle before being off; the first cycle has none."""

    number: int
    on_at: datetime
    off_at: datetime | None
    pause: timedelta | None
    batch: str
    is_lit: bool
    is_taken_off: bool
    sensitivity: int | None

    @property
    def on_for(self) -> timedelta | None:
        return self.off_at - self.on_at if self.off_at is not None else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the log. recorded_at: only where it was written down later than it happened."""

    seq: int
    at: datetime
    by: str
    words: str | Promise
    detail: str | Promise
    own_words: str
    recorded_at: datetime | None
    is_taken_back: bool
    beyond: Sequence[str | Promise]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordFacts:
    state: SessionState
    cycles: Sequence[CycleLine]
    stopped: Sequence[Entry]
    marked: Sequence[Entry]
    late: Sequence[Entry]
    care: Sequence[Entry]
    entries: Sequence[Entry]
    used_light: bool
    light_units: frozenset[int]
    curing_units: frozenset[int]
    batches: frozenset[int]

    @property
    def contact(self) -> timedelta:
        return timedelta(seconds=self.state.contact_seconds)


def record_facts(events: Sequence[Event], plan: SessionPlan, *, now: datetime) -> RecordFacts:
    log = once(events)
    state, gone = fold(log, plan, now), taken_back(log, closing=closing_of(log))
    beyond: dict[int, list[str | Promise]] = {}
    for mark in state.past_limit:
        beyond.setdefault(mark.seq, []).append(mark.code.label)
    entries = [_entry(event, gone=gone, beyond=beyond.get(event.seq, ())) for event in log]
    standing = [(event, entry) for event, entry in zip(log, entries, strict=True) if not entry.is_taken_back]
    return RecordFacts(
        state=state,
        cycles=_cycles(state),
        stopped=[entry for event, entry in standing if event.kind in _STOPPED],
        marked=[entry for entry in entries if entry.beyond],
        late=[entry for event, entry in standing if entry.recorded_at or event.kind is Kind.WRITTEN_LATER],
        care=[entry for event, entry in standing if event.kind is Kind.CARE],
        entries=entries,
        used_light=any(event.kind is Kind.LIGHT_ON for event, _entry_of in standing),
        light_units=_units(standing, made.LightOn),
        curing_units=_units(standing, made.Cured),
        batches=frozenset(mix.batch for mix in state.mixes),
    )


def _units(standing: Sequence[tuple[Event, Entry]], kind: type[made.LightOn] | type[made.Cured]) -> frozenset[int]:
    used = (event.payload.light_unit for event, _entry in standing if isinstance(event.payload, kind))
    return frozenset(unit for unit in used if unit is not None)


def _cycles(state: SessionState) -> list[CycleLine]:
    mixes: Mapping[int | None, MixState] = {mix.number: mix for mix in state.mixes}
    lines: list[CycleLine] = []
    for cycle in state.cycles:
        before = lines[-1].off_at if lines else None
        mix = mixes.get(cycle.mix)
        lines.append(
            CycleLine(
                number=cycle.number,
                on_at=cycle.started_at,
                off_at=cycle.ended_at,
                pause=cycle.started_at - before if before is not None else None,
                batch=mix.batch_number if mix is not None else "",
                is_lit=cycle.lit,
                is_taken_off=cycle.taken_off,
                sensitivity=cycle.sensitivity,
            )
        )
    return lines


def _entry(event: Event, *, gone: frozenset[int], beyond: Sequence[str | Promise]) -> Entry:
    payload = event.payload
    details = _DETAILS.get(event.kind)
    return Entry(
        seq=event.seq,
        at=event.happened_at,
        by=event.actor_name,
        words=sentence_of(event),
        detail=details(payload) if details is not None else "",
        own_words=_own_words(payload),
        recorded_at=event.recorded_at if event.recorded_at - event.happened_at > LATE else None,
        is_taken_back=event.seq in gone,
        beyond=tuple(beyond),
    )


def _own_words(payload: Payload) -> str:
    match payload:
        case made.Words() | made.TakeOffReasonGiven() | made.ContactSettled():
            return payload.words
    return ""


def _people(payload: made.People) -> str | Promise:
    values = {"chaperone": payload.chaperone.label, "interpreter": payload.interpreter.label}
    return _("%(chaperone)s; %(interpreter)s") % values


def _conditions(payload: made.StartShade) -> str | Promise:
    if payload.teeth_wet and payload.no_tinted_eyewear and payload.chair_light_off:
        return _("teeth wet, no tinted eyewear, chair light off")
    return _("not under the usual conditions")


def _pieces(number: int) -> str | Promise:
    return ngettext_lazy("%(number)d piece", "%(number)d pieces", number) % {"number": number}


def _later(payload: made.WrittenLater) -> str | Promise:
    return _("seen by %(seen)s, written by %(written)s") % {
        "seen": payload.seen_by.name,
        "written": payload.written_by.name,
    }


# The payload's class follows from the kind; the table says it once for all of them.
_DETAILS: Mapping[Kind, Callable[[Any], str | Promise]] = {
    Kind.PEOPLE: _people,
    Kind.START_SHADE: _conditions,
    Kind.BARRIER: lambda payload: _pieces(payload.pieces),
    Kind.BARRIER_OFF: lambda payload: _pieces(payload.pieces_out),
    Kind.CURED: lambda payload: _("%(seconds)d s for each area") % {"seconds": payload.seconds_per_area},
    Kind.INSPECTION: lambda payload: f"{payload.first.name}, {payload.second.name}",
    Kind.CLOSED: lambda payload: payload.by.name,
    Kind.UNDO: lambda payload: _("entry %(number)d") % {"number": payload.seq},
    Kind.WRITTEN_LATER: _later,
}
