"""The facts of a session as its log builds them up, before anybody asks what time it is."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Arch, EmergencyStep
from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.kinds import BEFORE_GEL, Step
from whitening.chairside.protocol.limits import SessionPlan
from whitening.chairside.protocol.marks import Beyond, PastLimit


@dataclass(slots=True, kw_only=True)
class Stretch:
    """Gel on one arch, from on to off."""

    arch: Arch
    on_at: datetime
    off_at: datetime | None = None


@dataclass(slots=True, kw_only=True)
class Mix:
    number: int
    batch: int
    batch_number: str
    started_at: datetime
    discarded: bool = False


@dataclass(slots=True, kw_only=True)
class Light:
    on_at: datetime
    from_position: int = 0
    from_at: datetime
    stopped_at: datetime | None = None


@dataclass(slots=True, kw_only=True)
class Cycle:
    number: int
    started_at: datetime
    mix: int | None
    ended_at: datetime | None = None
    lit: bool = False
    sensitivity: int | None = None
    decided: bool = False
    taken_off: bool = False


@dataclass(slots=True, kw_only=True)
class Emergency:
    pressed_at: datetime
    done: set[EmergencyStep] = field(default_factory=set)
    reason: made.TakeOffReasonGiven | None = None


@dataclass(slots=True, kw_only=True)
class Touched:
    seq: int
    contact: made.Contact
    at: datetime
    settled_at: datetime | None = None
    settled: made.ContactSettled | None = None


@dataclass(slots=True, kw_only=True)
class Tally:
    plan: SessionPlan
    done: set[Step] = field(default_factory=set)
    # Every step that was ever done, also when it was undone by what came later (a barrier taken off).
    seen: set[Step] = field(default_factory=set)
    skipped: set[Step] = field(default_factory=set)
    people: made.People | None = None
    # By the rule's code: the first entry that says the step was done.
    care: dict[str, Event] = field(default_factory=dict)
    start_shade: str = ""
    final_shade: str = ""
    pieces_in: int | None = None
    placed: bool = False
    cured: bool = False
    mixes: list[Mix] = field(default_factory=list)
    # Numbers are given once, also to a mix whose entry was taken back.
    mixes_numbered: int = 0
    # When mixes began whose entries were taken back: started again, the mix keeps the earliest of them.
    mixes_taken_back: dict[int, datetime] = field(default_factory=dict)
    running: dict[Arch, Stretch] = field(default_factory=dict)
    stretches: list[Stretch] = field(default_factory=list)
    cycles: list[Cycle] = field(default_factory=list)
    light: Light | None = None
    emergency: Emergency | None = None
    touched: list[Touched] = field(default_factory=list)
    beyond: list[PastLimit] = field(default_factory=list)
    words_seq: int = 0
    over: bool = False
    closed: made.Closed | None = None
    closed_at: datetime | None = None

    @property
    def cycle(self) -> Cycle | None:
        """The one whose gel is on."""
        return self.cycles[-1] if self.cycles and self.cycles[-1].ended_at is None else None

    @property
    def undecided(self) -> Cycle | None:
        """The last one, its gel off, and not yet said whether another follows."""
        last = self.cycles[-1] if self.cycles else None
        return last if last is not None and last.ended_at is not None and not (last.decided or self.over) else None

    @property
    def emergency_open(self) -> bool:
        left = self.emergency is not None and self.emergency.done != set(EmergencyStep)
        return left or (self.emergency is not None and bool(self.running) and self.taken_off_running)

    @property
    def taken_off_running(self) -> bool:
        cycle = self.cycle
        return cycle is not None and cycle.taken_off

    @property
    def reason_missing(self) -> bool:
        return self.emergency is not None and self.emergency.reason is None

    @property
    def open_contact(self) -> bool:
        return any(touched.settled_at is None for touched in self.touched)

    @property
    def ended_early(self) -> bool:
        if not self.over:
            return False
        cut_short = bool(self.cycles) and self.cycles[-1].taken_off
        return cut_short or len(self.cycles) < self.plan.cycles_planned

    @property
    def arches_may_differ(self) -> bool:
        """Ended early with gel behind it; before any gel both arches are as they came."""
        return self.ended_early and bool(self.cycles)

    @property
    def open_mixes(self) -> tuple[Mix, ...]:
        """Nobody said yet what became of them; past its life a mix is still in somebody's way."""
        return tuple(mix for mix in self.mixes if not mix.discarded)

    def ready_for_gel(self) -> bool:
        return all(step in self.done or step in self.skipped for step in BEFORE_GEL)

    def seconds(self, arch: Arch) -> float:
        """Of gel that is off again."""
        spans = (
            stretch.off_at - stretch.on_at for stretch in self.stretches if stretch.arch is arch and stretch.off_at
        )
        return sum(spans, timedelta()).total_seconds()

    def mark(self, event: Event, code: Beyond) -> None:
        """Once for an entry, also where both arches went past the same limit with it."""
        past = PastLimit(seq=event.seq, code=code)
        if past not in self.beyond:
            self.beyond.append(past)
