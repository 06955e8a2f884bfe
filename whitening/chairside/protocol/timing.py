"""How long the stretches of a session really took, and what is usual for whoever treats. Pure.

Usual is the time in which 80 % of the looked-at sessions were done: the smallest time that was measured and
that at least 80 % of them did not exceed, which is the inverse of the empirical distribution (definition 1 of
Hyndman and Fan, 1996: always a time that really was, never one between two). It is then rounded up. That 80 %
are enough, that eight sessions say something and that the newest forty count is common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.history import closing_of, once, taken_back
from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.payloads import GelOn
from whitening.chairside.protocol.worded import Worded

SHARE_PERCENT = 80
ENOUGH = 8
NEWEST = 40
# Longer than this nobody works without a break: the log was left open, and says nothing about a length.
LEFT_OPEN_MINUTES = 180
ROUND_UP_TO = 5


class Measure(Worded):
    START = "start", _("from opening the session to the first gel")
    CYCLE = "cycle", _("what a cycle takes besides its planned minutes")
    FINISH = "finish", _("from the last cycle to closing the session")


# Times of a session with one of these are of another day's making: written later, or broken off.
_UNUSUAL = frozenset({Kind.WRITTEN_LATER, Kind.TAKE_OFF_NOW, Kind.ENDED_EARLY})
_IN_CYCLES = frozenset({Kind.GEL_ON, Kind.GEL_OFF, Kind.RINSED, Kind.SENSITIVITY, Kind.DECIDED})
READ = _UNUSUAL | _IN_CYCLES | {Kind.UNDO}
_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Summary:
    """minutes: what to keep free; within: how many of so many sessions took no longer than that."""

    minutes: int
    within: int
    sessions: int


def lengths(
    log: Sequence[Event], *, opened_at: datetime, closed_at: datetime, planned_minutes: int
) -> dict[Measure, float]:
    """Minutes of each stretch of a closed session; nothing of one that does not say how long it usually takes.

    How long the gel stays on is the plan's, and another patient's plan is another: of a cycle, from gel to gel, only
    what comes on top of the planned minutes is the clinician's own.
    """
    events = once(log)
    gone = taken_back(events, closing=closing_of(events))
    standing = [event for event in events if event.seq not in gone]
    gels = [event.payload for event in standing if isinstance(event.payload, GelOn)]
    if not gels or any(event.kind in _UNUSUAL for event in standing):
        return {}
    first = min(event.happened_at for event in standing if event.kind is Kind.GEL_ON)
    last = max(event.happened_at for event in standing if event.kind in _IN_CYCLES)
    spans = {
        Measure.START: first - opened_at,
        Measure.CYCLE: (last - first) / len({gel.cycle for gel in gels}),
        Measure.FINISH: closed_at - last,
    }
    minutes = {measure: span / _MINUTE for measure, span in spans.items()}
    found = {measure: value for measure, value in minutes.items() if 0 < value <= LEFT_OPEN_MINUTES}
    if Measure.CYCLE in found:
        found[Measure.CYCLE] = max(found[Measure.CYCLE] - planned_minutes, 0)
    return found


def usual(values: Sequence[float], measure: Measure) -> Summary:
    """Of at least one value. Of a cycle it is rounded up to a whole minute, for it is counted several times."""
    # In whole numbers: 0.8 * 10 must not become a ninth value by a rounding error.
    place = -(-SHARE_PERCENT * len(values) // 100)
    step = 1 if measure is Measure.CYCLE else ROUND_UP_TO
    minutes = max(ceil(sorted(values)[place - 1] / step), 1) * step
    return Summary(minutes, sum(value <= minutes for value in values), len(values))
