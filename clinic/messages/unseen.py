"""Characters that nobody sees: alone they make an empty subject, and inside a word they hide it from a search."""

import unicodedata
from typing import Final

# Blank, though they count as letters, marks or signs: the fillers of Hangul, inherent vowels of Khmer, the empty
# pattern of Braille, and the joiner that joins nothing (Unicode, Default_Ignorable_Code_Point).
_BLANK: Final = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0")
# Within a word they choose how its letters join (Unicode, chapter 23.2): ZERO WIDTH NON-JOINER and JOINER.
JOINERS: Final = frozenset("\u200c\u200d")
# Written with them: languages in the Arabic script, and those of India and its neighbours.
_JOINED: Final = frozenset(
    [
        "ar",
        "ckb",
        "fa",
        "ps",
        "sd",
        "ug",
        "ur",
        "as",
        "bn",
        "gu",
        "hi",
        "kn",
        "ml",
        "mr",
        "ne",
        "or",
        "pa",
        "sa",
        "si",
        "ta",
        "te",
        "km",
        "my",
    ]
)


def is_unseen(letter: str) -> bool:
    """A format character (general category Cf), or one that is blank."""
    return letter in _BLANK or unicodedata.category(letter) == "Cf"


def is_seen(letter: str) -> bool:
    """A letter, a digit, a sign: whatever leaves something on the screen."""
    return unicodedata.category(letter)[0] in "LNPS" and not is_unseen(letter)


def joins(text: str, place: int, language: str) -> bool:
    """Whether the script itself needs the character there: a joiner right after a letter or its mark."""
    if text[place] not in JOINERS or language.partition("-")[0] not in _JOINED:
        return False
    return place > 0 and unicodedata.category(text[place - 1])[0] in "LM"


def as_read(text: str) -> str:
    """As an eye reads it: without what nobody sees, in plain letters, without the points above and below them."""
    seen = "".join(letter for letter in text if not is_unseen(letter))
    plain = unicodedata.normalize("NFKC", seen)
    return "".join(letter for letter in plain if unicodedata.category(letter) != "Mn")
