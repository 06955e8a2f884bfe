"""Payloads of taking out, of parting, and of the entries about entries."""

from dataclasses import dataclass
from datetime import UTC, datetime

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol import choices
from whitening.chairside.protocol.kinds import Kind, Step
from whitening.chairside.protocol.payloads.base import Payload, Person, demand, demand_tab
from whitening.chairside.protocol.payloads.before import MOST_PIECES

MOST_WORDS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class BarrierOff(Payload):
    kind = Kind.BARRIER_OFF
    pieces_out: int

    def __post_init__(self) -> None:
        demand(0 <= self.pieces_out <= MOST_PIECES, _("Count the pieces: between 0 and 40."))


@dataclass(frozen=True, slots=True, kw_only=True)
class EyewearOff(Payload):
    kind = Kind.EYEWEAR_OFF


@dataclass(frozen=True, slots=True, kw_only=True)
class FinalShade(Payload):
    kind = Kind.FINAL_SHADE
    tab: str

    def __post_init__(self) -> None:
        demand_tab(self.tab)


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice(Payload):
    kind = Kind.ADVICE


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStepsAgreed(Payload):
    kind = Kind.NEXT_STEPS
    steps: choices.NextSteps = choices.NextSteps.AS_PLANNED


@dataclass(frozen=True, slots=True, kw_only=True)
class Words(Payload):
    kind = Kind.WORDS
    words: str

    def __post_init__(self) -> None:
        demand(bool(self.words.strip()), _("Write what happened and why, in a sentence or two."))
        demand(len(self.words) <= MOST_WORDS, _("That is longer than 1000 characters. Say it shorter."))


@dataclass(frozen=True, slots=True, kw_only=True)
class EndedEarly(Payload):
    kind = Kind.ENDED_EARLY
    difference: choices.Difference


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed(Payload):
    kind = Kind.CLOSED
    by: Person


@dataclass(frozen=True, slots=True, kw_only=True)
class Undo(Payload):
    kind = Kind.UNDO
    seq: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenLater(Payload):
    """From paper: the entry's own times say when; this says who saw it and who wrote it."""

    kind = Kind.WRITTEN_LATER
    seen_by: Person
    written_by: Person
    seen_at: datetime
    written_at: datetime

    def __post_init__(self) -> None:
        aware = self.seen_at.tzinfo is not None and self.written_at.tzinfo is not None
        demand(aware, _("A time without its zone cannot be placed. Enter it again."))
        in_order = self.seen_at.astimezone(UTC) <= self.written_at.astimezone(UTC)
        demand(in_order, _("It was written before it happened. Check the two times."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped(Payload):
    kind = Kind.SKIPPED
    step: Step

    def __post_init__(self) -> None:
        optional = self.step not in {Step.CYCLES, Step.ADVICE, Step.CLOSE}
        demand(optional, _("This step cannot be left out."))
