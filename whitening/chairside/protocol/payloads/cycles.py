"""Payloads of mixing, of the cycles, and of what may happen at any moment of them."""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol import choices
from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.payloads.base import Payload, demand

_TEETH = frozenset(f"{quadrant}{place}" for quadrant in "1234" for place in "12345678")


@dataclass(frozen=True, slots=True, kw_only=True)
class MixStarted(Payload):
    """`cleared`: gates open and batch usable as the entry was made; kept, because both can change later."""

    kind = Kind.MIX_STARTED
    filled_in = frozenset({"number", "cleared"})
    batch: int
    number: str = ""
    cleared: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class MixDiscarded(Payload):
    kind = Kind.MIX_DISCARDED
    mix: int
    end: choices.MixEnd = choices.MixEnd.DISCARDED


@dataclass(frozen=True, slots=True, kw_only=True)
class GelOn(Payload):
    """`cleared`: gates open and the mix's batch on no hold as the entry was made; kept, because both can change.

    `agreed`: how many cycles the patient had agreed to by then; kept, because a later signature agrees to nothing past.
    """

    kind = Kind.GEL_ON
    filled_in = frozenset({"cleared", "agreed"})
    cycle: int
    mix: int | None
    arches: choices.Arches = choices.Arches.BOTH
    cleared: bool = True
    agreed: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LightOn(Payload):
    kind = Kind.LIGHT_ON
    light_unit: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LightOff(Payload):
    kind = Kind.LIGHT_OFF


@dataclass(frozen=True, slots=True, kw_only=True)
class LightMoved(Payload):
    kind = Kind.LIGHT_MOVED
    tooth: str

    def __post_init__(self) -> None:
        demand(self.tooth in _TEETH, _("That is no tooth number. Pick a tooth of the plan."))


@dataclass(frozen=True, slots=True, kw_only=True)
class GelChanged(Payload):
    kind = Kind.GEL_CHANGED


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeUp(Payload):
    kind = Kind.TIME_UP


@dataclass(frozen=True, slots=True, kw_only=True)
class GelOff(Payload):
    kind = Kind.GEL_OFF
    arches: choices.Arches = choices.Arches.BOTH


@dataclass(frozen=True, slots=True, kw_only=True)
class Rinsed(Payload):
    kind = Kind.RINSED


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity(Payload):
    kind = Kind.SENSITIVITY
    score: int

    def __post_init__(self) -> None:
        demand(0 <= self.score <= 10, _("Sensitivity goes from 0 to 10."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided(Payload):
    kind = Kind.DECIDED
    choice: choices.Choice


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOffNow(Payload):
    kind = Kind.TAKE_OFF_NOW


@dataclass(frozen=True, slots=True, kw_only=True)
class EmergencyStepDone(Payload):
    kind = Kind.EMERGENCY_STEP
    step: choices.EmergencyStep


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOffReasonGiven(Payload):
    kind = Kind.TAKE_OFF_REASON
    reason: choices.TakeOffReason
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact(Payload):
    kind = Kind.CONTACT
    place: choices.Place


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactSettled(Payload):
    """`contact` is the number in the log of the contact that is settled."""

    kind = Kind.CONTACT_SETTLED
    contact: int
    action: choices.FirstAid
    words: str = ""
