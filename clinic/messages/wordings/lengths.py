"""How many parts a text message takes on the air, and so what it costs. Pure.

3GPP TS 23.038: the default alphabet holds 160 characters in one part, or 153 in each of several; those of its extension
table count two. Anything else makes the whole text 16-bit: 70, or 67 in each of several (TS 23.040 for the header).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

_BASIC: Final = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
_EXTENDED: Final = frozenset("\f^{}\\[~]|€")


@dataclass(frozen=True, slots=True)
class Alphabet:
    """alone: room of a single part; joined: of each of several. most: parts that we let a message take."""

    alone: int
    joined: int
    most: int


# Two parts hold whatever the program says with a private link in it; in 16 bits the same sentence takes three.
SEVEN_BITS: Final = Alphabet(alone=160, joined=153, most=2)
SIXTEEN_BITS: Final = Alphabet(alone=70, joined=67, most=3)


@dataclass(frozen=True, slots=True)
class Length:
    """used: in the alphabet's own units. beyond: characters that made the whole text 16-bit."""

    parts: int
    used: int
    alphabet: Alphabet
    beyond: str = ""

    @property
    def is_too_long(self) -> bool:
        return self.parts > self.alphabet.most

    @property
    def beyond_quoted(self) -> str:
        """The first dozen, each by itself: a dash or a full stop would be lost in a sentence."""
        return " ".join(f"“{letter}”" for letter in self.beyond[:12])

    @property
    def room(self) -> int:
        """Units that all its parts hold together."""
        return self.alphabet.alone if self.parts <= 1 else self.parts * self.alphabet.joined


def length_of(text: str) -> Length:
    beyond = "".join(dict.fromkeys(letter for letter in text if letter not in _BASIC | _EXTENDED))
    alphabet = SIXTEEN_BITS if beyond else SEVEN_BITS
    units = [_units(letter, alphabet) for letter in text]
    return Length(_parts(units, alphabet), sum(units), alphabet, beyond)


def _units(letter: str, alphabet: Alphabet) -> int:
    if alphabet is SIXTEEN_BITS:
        return len(letter.encode("utf-16-le")) // 2
    return 2 if letter in _EXTENDED else 1


def _parts(units: Iterable[int], alphabet: Alphabet) -> int:
    """A character of two units is never cut in two: it begins the next part."""
    units = list(units)
    if sum(units) <= alphabet.alone:
        return 1 if units else 0
    parts, filled = 1, 0
    for unit in units:
        if filled + unit > alphabet.joined:
            parts, filled = parts + 1, 0
        filled += unit
    return parts
