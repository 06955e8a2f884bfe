"""What the log amounts to at one moment: all that a screen needs."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol.choices import Arch, EmergencyStep, FirstAid, Place, TakeOffReason
from whitening.chairside.protocol.kinds import Phase, Step
from whitening.chairside.protocol.marks import Missing, PastLimit, Warn
from whitening.chairside.protocol.payloads import Payload, People
from whitening.chairside.protocol.worded import Worded


class Moment(Worded):
    """Where inside the cycles the session is."""

    MIX = "mix", _("Start the mix")
    GEL_ON = "gel_on", _("Gel on")
    RUNNING = "running", _("Gel is on")
    SENSITIVITY = "sensitivity", _("Rinse. Then ask: how sensitive, 0 to 10?")
    DECISION = "decision", _("Stop here or one more cycle?")
    EMERGENCY = "emergency", _("Take the gel off now")
    REASON = "reason", _("Why was the gel taken off?")


class Ask(Worded):
    """An offer that needs the person to choose or to write first."""

    NOTHING = "nothing", ""
    PEOPLE = "people", _("Choose who is here")
    INSPECTION = "inspection", _("Choose who inspected")
    PIECES_IN = "pieces_in", _("Another number of pieces")
    PIECES_OUT = "pieces_out", _("Another number of pieces")
    WORDS = "words", _("Write what happened")
    REASK = "reask", _("Read out the list")


class Standing(Worded):
    DONE = "done", _("done")
    CURRENT = "current", _("now")
    AHEAD = "ahead", _("to come")
    LEFT_OUT = "left_out", _("left out")


class ClockKind(Worded):
    GEL = "gel", _("Gel on the teeth")
    LIGHT = "light", _("Light")
    MIX = "mix", _("Mix")


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One tap: what stands on the button and the entries it makes. Without entries it opens a form."""

    label: str | Promise
    payloads: tuple[Payload, ...] = ()
    ask: Ask = Ask.NOTHING


@dataclass(frozen=True, slots=True, kw_only=True)
class Waypoint:
    phase: Phase
    standing: Standing
    cycle: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Runs from `started_at`; `limit_at` is where it must end, None where nothing limits it."""

    kind: ClockKind
    started_at: datetime
    limit_at: datetime | None
    arch: Arch | None = None
    cycle: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class LightState:
    """Where the light should be by its clock. `place` is a tooth number or the name of an arch."""

    place: str
    position: int
    places: tuple[str, ...]
    started_at: datetime
    next_at: datetime | None
    ends_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MixState:
    number: int
    batch: int
    batch_number: str
    started_at: datetime
    expires_at: datetime | None
    usable: bool
    discarded: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactState:
    """Gel or light touched somebody; open until what was done is recorded."""

    seq: int
    place: Place
    at: datetime
    settled_at: datetime | None
    action: FirstAid | None
    words: str

    @property
    def open(self) -> bool:
        return self.settled_at is None


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleState:
    number: int
    started_at: datetime
    ended_at: datetime | None
    mix: int | None
    lit: bool
    sensitivity: int | None
    taken_off: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CareState:
    """A step that a finding asks for, done."""

    finding: str
    at: datetime
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EmergencyState:
    """`Take the gel off now` was pressed; the steps are offered until all are done."""

    pressed_at: datetime
    steps_left: tuple[EmergencyStep, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionState:
    version: int
    step: Step | None
    moment: Moment | None
    offers: tuple[Offer, ...]
    also: tuple[Offer, ...]
    undo: Offer | None
    take_off: Offer
    contact_offers: tuple[Offer, ...]
    settle_offers: tuple[Offer, ...]
    path: tuple[Waypoint, ...]
    clocks: tuple[Clock, ...]
    light: LightState | None
    mixes: tuple[MixState, ...]
    cycles: tuple[CycleState, ...]
    contact_seconds: int
    gel_on: bool
    gel_on_arches: tuple[Arch, ...]
    emergency: EmergencyState | None
    contacts: tuple[ContactState, ...]
    past_limit: tuple[PastLimit, ...]
    unexplained: tuple[PastLimit, ...]
    warnings: tuple[Warn, ...]
    # What shut a gate, as long as it matters to this session.
    against: tuple[str, ...]
    missing: tuple[Missing, ...]
    next_at: datetime | None
    people: People | None
    care: tuple[CareState, ...]
    start_shade: str
    final_shade: str
    reason: TakeOffReason | None
    ended_early: bool
    over: bool
    closed_at: datetime | None
    closed_by: str

    @property
    def open_contacts(self) -> tuple[ContactState, ...]:
        return tuple(contact for contact in self.contacts if contact.open)

    @property
    def needs_call(self) -> bool:
        """A contact or an early end asks for a call on the next day; a contact entered by mistake was none."""
        return any(one.action is not FirstAid.MISTAKE for one in self.contacts) or self.ended_early

    @property
    def can_close(self) -> bool:
        return self.closed_at is None and not self.missing

    @property
    def cycles_done(self) -> int:
        return sum(cycle.ended_at is not None for cycle in self.cycles)
