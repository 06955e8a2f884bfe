"""Pure rules of the register: coming of age, folding names for search, and who may be the same person."""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from rapidfuzz.distance import OSA

# Letters that Unicode does not decompose into a base letter and an accent.
_LETTERS = {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i"}
# Signs inside a name that people leave out when they type: apostrophes of all kinds, and the Arabic lengthening stroke.
_SILENT = dict.fromkeys("'’‘ʼʻ`´ـ", "")
_PLAIN = str.maketrans(_LETTERS | _SILENT)
# Letters by their category that show nothing: the fillers of Korean syllables (Unicode, default ignorable).
_UNSEEN = frozenset("\u115f\u1160\u3164\uffa0")
_WORDS = re.compile(r"[^\W_]+")
ADULT_AT = 18


def adult_on(birth_on: date) -> date:
    return birthday_on(birth_on, ADULT_AT)


def birthday_on(birth_on: date, age: int) -> date:
    """From when on that age is reached. Born on 29 February, it is counted from 1 March: the later, cautious day."""
    year = birth_on.year + age
    try:
        return birth_on.replace(year=year)
    except ValueError:
        return date(year, 3, 1)


def age_on(day: date, birth_on: date) -> int:
    """Full years lived by that day."""
    return day.year - birth_on.year - ((day.month, day.day) < (birth_on.month, birth_on.day))


def folded(text: str) -> str:
    """Lower case, without accents, words parted by one space: "Müller-Łukasz" and "muller lukasz" are equal.

    An apostrophe joins: "O'Brien" is "obrien", which "obrien", "o brien" and "O’Brien" all find.
    """
    # The silent signs first: some of them decompose into a space and an accent. Twice, because what
    # decomposes may be a capital, and a capital may fold into what decomposes.
    plain = text.translate(_PLAIN)
    for _ in range(2):
        plain = unicodedata.normalize("NFKD", plain.casefold()).translate(_PLAIN)
    return " ".join(_WORDS.findall("".join(letter for letter in plain if unicodedata.category(letter)[0] != "M")))


def has_a_letter(text: str) -> bool:
    """A name is made of letters of any script; signs and pictures may stand beside them."""
    return any(letter.isalpha() and letter not in _UNSEEN for letter in text)


def digits(text: str) -> str:
    """ASCII digits only; Arabic and other digits are read as the same numbers."""
    return "".join(str(unicodedata.decimal(letter)) for letter in text if letter.isdecimal())


def word_distance(asked: str, word: str) -> int:
    """Typing slips between what was typed so far and the beginning of a word; a swap of neighbours counts one."""
    return min(
        OSA.distance(asked, word[:length]) for length in {len(asked) - 1, len(asked), len(asked) + 1} if length > 0
    )


def slip_keys(word: str) -> set[str]:
    """The word itself, and without each of its first three letters."""
    return {word, *(word[:at] + word[at + 1 :] for at in range(min(3, len(word))))}


def slips_allowed(asked: str) -> int:
    """None in short words, where a slip makes another name; common practice, no source."""
    return 0 if len(asked) < 4 else 1 if len(asked) < 7 else 2


def name_score(asked: Iterable[str], name_words: Iterable[str]) -> int | None:
    """Sum of slips when every asked word begins some word of the name within its allowance, else None."""
    words = list(name_words)
    total = 0
    for one in asked:
        best = min((word_distance(one, word) for word in words), default=99)
        if best > slips_allowed(one):
            return None
        total += best
    return total


@dataclass(frozen=True, slots=True)
class SearchKeys:
    """What a patient is found by, folded.

    name: everything they are called; turned: the full name with its last word first; text: two spaces before each
    word, so that even one letter that begins a word makes three signs, and one after the last.
    """

    name: str
    turned: str
    digits: str
    text: str


def search_keys(*, name: str, preferred_name: str, phone: str, email: str) -> SearchKeys:
    called = folded(f"{name} {preferred_name}")[:420]
    first, _space, last = folded(name)[:420].rpartition(" ")
    number = digits(phone)[-20:]
    text = "".join(f"  {part}" for part in (*called.split(), number, email.casefold()) if part) + " "
    return SearchKeys(called, f"{last} {first}".strip(), number, text)


class Sameness(StrEnum):
    """Why a row may be the person on the telephone."""

    NAME_AND_BIRTH = "name_and_birth"
    PHONE = "phone"
    EMAIL = "email"


@dataclass(frozen=True, slots=True)
class LanguageGap:
    """Somebody wants a language in which nothing is written here. interpreter: the one that is asked for, if any."""

    name: str
    language: str
    interpreter: str


@dataclass(frozen=True, slots=True)
class Identity:
    name: str
    birth_on: date | None
    digits: str
    email: str


def same_person(one: Identity, other: Identity) -> Sameness | None:
    """The strongest reason to think that two rows are one person, or None.

    A shared telephone or e-mail address alone is common in families: the birth date then decides.
    """
    known_apart = one.birth_on and other.birth_on and one.birth_on != other.birth_on
    if _names_alike(one.name, other.name) and one.birth_on and one.birth_on == other.birth_on:
        return Sameness.NAME_AND_BIRTH
    if one.email and one.email.casefold() == other.email.casefold() and not known_apart:
        return Sameness.EMAIL
    if len(one.digits) >= 7 and one.digits[-9:] == other.digits[-9:] and not known_apart:
        return Sameness.PHONE
    return None


def _names_alike(one: str, other: str) -> bool:
    """Same words in any order, or a few slips apart over the whole name."""
    left, right = folded(one), folded(other)
    if sorted(left.split()) == sorted(right.split()):
        return True
    return bool(left and right) and OSA.normalized_similarity(left, right) >= 0.8
