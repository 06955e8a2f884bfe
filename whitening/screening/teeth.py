"""Teeth by their ISO 3950 numbers, always shown with a name; patients get words only."""

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path
from types import MappingProxyType

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from whitening.screening.words import Words, words

FILE = Path(__file__).parent / "data" / "teeth.toml"


class UnknownTooth(ValueError):
    """No tooth has that ISO 3950 number."""


class Arch(StrEnum):
    UPPER = "upper"
    LOWER = "lower"

    @property
    def label(self) -> Words:
        return ARCH_LABELS[self]


ARCH_LABELS: dict[Arch, Words] = {Arch.UPPER: _("upper arch"), Arch.LOWER: _("lower arch")}
# ISO 3950: clockwise as one sees them, right and left are the patient's own.
QUARTER_LABELS: dict[int, Words] = {1: _("upper right"), 2: _("upper left"), 3: _("lower left"), 4: _("lower right")}


@dataclass(frozen=True, slots=True)
class Tooth:
    number: str
    name: Words
    patient_name: Words

    @property
    def quadrant(self) -> int:
        return int(self.number[0])

    @property
    def place(self) -> int:
        """Counted from the midline, 1 is the central incisor."""
        return int(self.number[1])

    @property
    def milk(self) -> bool:
        # ISO 3950: 5 to 8 are the milk quadrants.
        return self.quadrant > 4

    @property
    def arch(self) -> Arch:
        return Arch.UPPER if self.quadrant in {1, 2, 5, 6} else Arch.LOWER

    @property
    def label(self) -> Words:
        return format_lazy("{number}, {name}", number=self.number, name=self.name)


@cache
def teeth() -> Mapping[str, Tooth]:
    content = tomllib.loads(FILE.read_text(encoding="utf-8"))
    # Every other key is a tooth.
    content.pop("version")
    return MappingProxyType(
        {number: Tooth(number, words(row["name"]), words(row["patient_name"])) for number, row in content.items()}
    )


def tooth(number: str) -> Tooth:
    try:
        return teeth()[number]
    except KeyError:
        raise UnknownTooth(number) from None


def arch_order(arch: Arch) -> tuple[str, ...]:
    """Adult teeth as one sees them in front of the patient: the patient's right is on the left."""
    # The lower quadrants run on clockwise: 3 is the lower left, 4 the lower right.
    right, left = (1, 2) if arch is Arch.UPPER else (4, 3)
    return (*(f"{right}{place}" for place in range(8, 0, -1)), *(f"{left}{place}" for place in range(1, 9)))


def quarters(arch: Arch) -> tuple[tuple[Words, tuple[str, ...]], ...]:
    """The arch as its two halves from the midline, each with its name."""
    order = arch_order(arch)
    return tuple((QUARTER_LABELS[tooth(half[0]).quadrant], half) for half in (order[:8], order[8:]))


def _up_to(place: int) -> frozenset[str]:
    return frozenset(number for arch in Arch for number in arch_order(arch) if tooth(number).place <= place)


# Canine to canine.
ANTERIOR = _up_to(3)
# Second premolar to second premolar: the teeth that show and are whitened. Common practice, no source.
WHITENING_RANGE = _up_to(5)


def planned_teeth(*, upper: bool, lower: bool, left_out: Collection[str]) -> tuple[str, ...]:
    """The teeth that get gel, in arch order."""
    arches = [arch for arch, planned in ((Arch.UPPER, upper), (Arch.LOWER, lower)) if planned]
    return tuple(
        number for arch in arches for number in arch_order(arch) if number in WHITENING_RANGE and number not in left_out
    )
