"""Payloads of the steps before the first gel."""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol import choices
from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.payloads.base import Payload, Person, demand, demand_tab

MOST_PIECES = 40
MOST_CURE_SECONDS = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class People(Payload):
    kind = Kind.PEOPLE
    clinician: Person
    assistant: Person
    chaperone: choices.Chaperone = choices.Chaperone.OFFERED_DECLINED
    interpreter: choices.Interpreter = choices.Interpreter.NOT_NEEDED

    def __post_init__(self) -> None:
        demand(self.clinician != self.assistant, _("Clinician and assistant are the same person. Pick two people."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reask(Payload):
    """`shown`: the items that were in front of the patient, joined by dots; numbers on the wire, ids in the log."""

    kind = Kind.REASK
    asked_by: Person
    shown: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CareTaken(Payload):
    """A step that a finding asks for. `finding`: a number on the wire, the rule's code in the log; `step`: in words."""

    kind = Kind.CARE
    filled_in = frozenset({"step"})
    finding: str
    step: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StopSignal(Payload):
    kind = Kind.STOP_SIGNAL


@dataclass(frozen=True, slots=True, kw_only=True)
class SplashGlasses(Payload):
    kind = Kind.SPLASH_GLASSES


@dataclass(frozen=True, slots=True, kw_only=True)
class Polished(Payload):
    kind = Kind.POLISH
    how: choices.Polish = choices.Polish.DONE


@dataclass(frozen=True, slots=True, kw_only=True)
class Opener(Payload):
    kind = Kind.OPENER


@dataclass(frozen=True, slots=True, kw_only=True)
class StartShade(Payload):
    kind = Kind.START_SHADE
    tab: str
    teeth_wet: bool = True
    no_tinted_eyewear: bool = True
    chair_light_off: bool = True

    def __post_init__(self) -> None:
        demand_tab(self.tab)


@dataclass(frozen=True, slots=True, kw_only=True)
class Photographs(Payload):
    kind = Kind.PHOTOGRAPHS
    moment: choices.PictureMoment
    pictures: choices.Pictures


@dataclass(frozen=True, slots=True, kw_only=True)
class Isolation(Payload):
    kind = Kind.ISOLATION


@dataclass(frozen=True, slots=True, kw_only=True)
class Eyewear(Payload):
    kind = Kind.EYEWEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class Barrier(Payload):
    kind = Kind.BARRIER
    pieces: int

    def __post_init__(self) -> None:
        demand(1 <= self.pieces <= MOST_PIECES, _("Count the pieces: between 1 and 40."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cured(Payload):
    kind = Kind.CURED
    seconds_per_area: int
    light_unit: int | None = None

    def __post_init__(self) -> None:
        demand(
            1 <= self.seconds_per_area <= MOST_CURE_SECONDS, _("Curing takes between 1 and 120 seconds for each area.")
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection(Payload):
    kind = Kind.INSPECTION
    first: Person
    second: Person

    def __post_init__(self) -> None:
        different = self.first.id != self.second.id and self.first.name != self.second.name
        demand(different, _("One person inspected twice. A second person has to look as well."))
