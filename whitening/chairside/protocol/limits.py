"""What a session may use, each default with where it comes from.

The maker's instructions of the product in use always decide; these defaults stand in only where the
practice has entered none.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from whitening.chairside.protocol.choices import Arch, Arches, LightKind
from whitening.chairside.protocol.payloads import Person

COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced:
    value: int
    source: str


DEFAULTS: Mapping[str, Sourced] = MappingProxyType(
    {
        "cycles_planned": Sourced(value=3, source="3 × 15 min against 1 × 45 min: Oper Dent 36(6):590 (abstract seen)"),
        "cycles_most": Sourced(value=6, source=COMMON_PRACTICE),
        "minutes_least": Sourced(value=8, source=COMMON_PRACTICE),
        "minutes_most": Sourced(value=15, source="15 min per application: Oper Dent 36(6):590 (abstract seen)"),
        "contact_minutes_most": Sourced(value=90, source=COMMON_PRACTICE),
        "removal_seconds": Sourced(value=60, source=COMMON_PRACTICE),
        "mix_life_minutes": Sourced(value=20, source=COMMON_PRACTICE),
        "seconds_per_tooth": Sourced(value=10, source=COMMON_PRACTICE),
        "minutes_per_arch": Sourced(value=5, source=COMMON_PRACTICE),
        "cure_seconds": Sourced(
            value=20, source="800 mW/cm² × 20 s = 16 J/cm², the target of a distance study; the output is from memory"
        ),
        "severe_from": Sourced(value=7, source="7 to 10 severe: J Pain 2006;7:49 and Woo 2015 (joined, cautious)"),
    }
)


def default(name: str) -> int:
    return DEFAULTS[name].value


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchFacts:
    """`usable`: in date and on no hold, as the caller has just looked."""

    id: int
    number: str
    usable: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionPlan:
    """The limits of one session and what it finds around the chair."""

    arches: Arches = Arches.BOTH
    teeth: tuple[str, ...] = ()
    light: LightKind = LightKind.NONE
    resin_barrier: bool = True
    needs_mixing: bool = True
    cycles_planned: int = default("cycles_planned")
    cycles_most: int = default("cycles_most")
    # As the consent that holds right now says it; the maker's most may be more.
    cycles_agreed: int = default("cycles_most")
    minutes_planned: int = default("minutes_most")
    minutes_least: int = default("minutes_least")
    minutes_most: int = default("minutes_most")
    contact_minutes_most: int = default("contact_minutes_most")
    removal_seconds: int = default("removal_seconds")
    # None: the maker sets no life after opening.
    mix_life_minutes: int | None = default("mix_life_minutes")
    seconds_per_tooth: int = default("seconds_per_tooth")
    minutes_per_arch: int = default("minutes_per_arch")
    cure_seconds: int = default("cure_seconds")
    severe_from: int = default("severe_from")
    clinician: Person | None = None
    assistant: Person | None = None
    light_unit: int | None = None
    curing_unit: int | None = None
    batch: BatchFacts | None = None
    # Put on hold since: a mix made of one is blocked at once.
    held_batches: frozenset[int] = frozenset()
    # What shut a gate since the opening, in words; while there is any, no gel may go on or stay.
    against: tuple[str, ...] = ()
    tabs: tuple[str, ...] = ()

    @property
    def gates_open(self) -> bool:
        return not self.against

    @property
    def arch_list(self) -> tuple[Arch, ...]:
        return self.arches.each

    @property
    def cycle_seconds_planned(self) -> int:
        return min(self.minutes_planned, self.minutes_most) * 60

    @property
    def cycle_seconds_least(self) -> int:
        return min(self.minutes_least * 60, self.cycle_seconds_planned)

    @property
    def cycle_seconds_most(self) -> int:
        return self.minutes_most * 60

    @property
    def contact_seconds_most(self) -> int:
        return self.contact_minutes_most * 60

    @property
    def fresh_batch(self) -> BatchFacts | None:
        """What a mix may be started from now: nothing while a gate is shut."""
        return self.batch if self.gates_open and self.batch is not None and self.batch.usable else None
