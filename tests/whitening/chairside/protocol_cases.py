"""A log to play with: entries made from payloads, with times in seconds from the start."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Choice, LightKind, PictureMoment, Pictures
from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.fold import fold
from whitening.chairside.protocol.kinds import Step
from whitening.chairside.protocol.limits import BatchFacts, SessionPlan
from whitening.chairside.protocol.marks import Beyond
from whitening.chairside.protocol.payloads import Payload, Person
from whitening.chairside.protocol.state import Offer, SessionState
from whitening.shade.tabs import TABS

START = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
AMARA = Person(id=1, name="Dr Amara Osei")
JONAS = Person(id=2, name="Jonas Lindqvist")
BATCH = BatchFacts(id=7, number="B-117", usable=True)
TEETH = ("15", "14", "13", "12", "11", "21", "22", "23", "24", "25")
PLAN = SessionPlan(
    teeth=TEETH,
    light=LightKind.HAND_HELD,
    cycles_planned=4,
    clinician=AMARA,
    assistant=JONAS,
    batch=BATCH,
    light_unit=3,
    curing_unit=4,
    tabs=tuple(tab.code for tab in TABS),
)


def at(seconds: float) -> datetime:
    return START + timedelta(seconds=seconds)


class Log:
    """Grows as a session does."""

    def __init__(self, plan: SessionPlan = PLAN) -> None:
        self.plan = plan
        self.events: list[Event] = []
        self.seconds = 0.0
        self.taps = 0

    @property
    def now(self) -> datetime:
        return at(self.seconds)

    @property
    def state(self) -> SessionState:
        return self.at(self.seconds)

    def at(self, seconds: float) -> SessionState:
        return fold(self.events, self.plan, at(seconds))

    def write(self, *payloads: Payload, after: float = 0, late: float = 0) -> "Log":
        """One tap, `after` seconds later; it reached the server `late` seconds after it happened."""
        self.seconds += after
        self.taps += 1
        for place, payload in enumerate(payloads):
            self.events.append(
                Event(
                    seq=len(self.events) + 1,
                    payload=payload,
                    happened_at=self.now,
                    recorded_at=at(self.seconds + late),
                    actor_id="2",
                    actor_name=JONAS.name,
                    client_id=f"tap{self.taps}.{place}",
                )
            )
        return self

    def tap(self, offer: Offer | None, after: float = 0) -> "Log":
        assert offer is not None
        assert offer.payloads, "this offer opens a form"
        return self.write(*offer.payloads, after=after)

    def undo(self, after: float = 0) -> "Log":
        return self.tap(self.state.undo, after=after)

    def stands_at(self, step: Step) -> bool:
        return self.state.step is step

    def marks(self) -> list[Beyond]:
        return [mark.code for mark in self.state.past_limit]

    def last_seq(self) -> int:
        return self.events[-1].seq


BEFORE: tuple[Sequence[Payload], ...] = (
    (made.People(clinician=AMARA, assistant=JONAS),),
    (made.Reask(asked_by=JONAS),),
    (made.StopSignal(),),
    (made.SplashGlasses(),),
    (made.Polished(),),
    (made.Opener(),),
    (made.StartShade(tab="A3"),),
    (made.Photographs(moment=PictureMoment.START, pictures=Pictures.BOTH),),
    (made.Isolation(),),
    (made.Eyewear(),),
    (made.Barrier(pieces=2), made.Cured(seconds_per_area=20)),
    (made.Inspection(first=AMARA, second=JONAS),),
)


def ready(plan: SessionPlan = PLAN) -> Log:
    """Everything before the first gel is done; ten seconds for each step."""
    log = Log(plan)
    for payloads in BEFORE:
        log.write(*payloads, after=10)
    return log


def with_gel(plan: SessionPlan = PLAN) -> Log:
    log = ready(plan)
    log.write(made.MixStarted(batch=7, number="B-117"), after=10)
    return log.write(made.GelOn(cycle=1, mix=1), after=30)


def cycle(log: Log, number: int, *, mix: int = 1, score: int = 2, minutes: float = 10) -> Log:
    """One whole cycle, decided to go on."""
    if log.state.gel_on is False:
        log.write(made.GelOn(cycle=number, mix=mix), after=10)
    log.write(made.GelChanged(), made.GelOff(), after=minutes * 60)
    log.write(made.Rinsed(), made.Sensitivity(score=score), after=20)
    return log.write(made.Decided(choice=Choice.ONE_MORE), after=5)


def over(plan: SessionPlan = PLAN) -> Log:
    """Four cycles are done, and it was decided to stop."""
    log = with_gel(plan)
    for number in range(1, 5):
        if number > 1:
            log.write(made.MixStarted(batch=7, number="B-117"), after=5)
        cycle(log, number, mix=number)
    log.write(*(made.MixDiscarded(mix=number) for number in range(1, 5)))
    return log.write(made.Decided(choice=Choice.STOP_HERE))


def finished(plan: SessionPlan = PLAN) -> Log:
    """Ready to be closed."""
    log = over(plan)
    log.write(made.BarrierOff(pieces_out=2), after=10)
    log.write(made.EyewearOff(), after=10)
    log.write(made.FinalShade(tab="A1"), after=10)
    log.write(made.Photographs(moment=PictureMoment.FINISH, pictures=Pictures.BOTH), after=10)
    return log.write(made.Advice(), made.NextStepsAgreed(), after=10)
