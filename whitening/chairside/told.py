"""What the log of a session tells away from the chair: its milestones in words, and the shades that stand."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from whitening.cases.models import Case, Moment
from whitening.chairside.log import event_of
from whitening.chairside.models import SessionEvent
from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.history import closing_of, taken_back
from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.payloads import CareTaken, FinalShade, StartShade
from whitening.chairside.protocol.saying import said

# What somebody looks for afterwards; the shades are told as readings of the case.
MILESTONES = frozenset(
    {
        Kind.CARE,
        Kind.GEL_ON,
        Kind.GEL_OFF,
        Kind.SENSITIVITY,
        Kind.TAKE_OFF_NOW,
        Kind.TAKE_OFF_REASON,
        Kind.CONTACT,
        Kind.CONTACT_SETTLED,
        Kind.ENDED_EARLY,
        Kind.SKIPPED,
    }
)
# At the chair the screen around them says what these answer.
_ANSWERS = frozenset({Kind.TAKE_OFF_REASON, Kind.CONTACT_SETTLED, Kind.ENDED_EARLY})


@dataclass(frozen=True, slots=True)
class Told:
    at: datetime
    by: str
    sentence: str | Promise


@dataclass(frozen=True, slots=True)
class Shade:
    """A reading at the chair. One that follows gel was read on dry teeth, so it is provisional."""

    moment: Moment
    tab: str
    at: datetime
    by: str


def logs_of(case: Case) -> dict[int, list[Event]]:
    """By session id, in one query."""
    logs: dict[int, list[Event]] = {}
    for row in SessionEvent.objects.filter(session__case=case).order_by("session", "seq"):
        logs.setdefault(row.session_id, []).append(event_of(row))
    return logs


def milestones(events: Sequence[Event]) -> list[Told]:
    """Without what was taken back; a contact stays, as in the log."""
    return [
        Told(event.happened_at, event.actor_name, sentence_of(event))
        for event in _standing(events)
        if event.kind in MILESTONES
    ]


def sentence_of(event: Event) -> str | Promise:
    """As exact as the entry, and to be read away from the chair."""
    if isinstance(event.payload, CareTaken):
        return _("Done for this patient: %(step)s") % {"step": event.payload.step}
    words = said(event.payload)
    if event.kind in _ANSWERS:
        return _("%(what)s: %(answer)s") % {"what": event.kind.label, "answer": words}
    return words


def standing_shades(events: Sequence[Event]) -> list[Shade]:
    """The last reading of each moment: one that was taken back never becomes part of the case."""
    shades: dict[Moment, Shade] = {}
    for event in _standing(events):
        if isinstance(event.payload, StartShade):
            shades[Moment.START] = Shade(Moment.START, event.payload.tab, event.happened_at, event.actor_name)
        elif isinstance(event.payload, FinalShade):
            shades[Moment.FINISH] = Shade(Moment.FINISH, event.payload.tab, event.happened_at, event.actor_name)
    return list(shades.values())


def _standing(events: Sequence[Event]) -> list[Event]:
    gone = taken_back(events, closing=closing_of(events))
    return [event for event in events if event.seq not in gone]
