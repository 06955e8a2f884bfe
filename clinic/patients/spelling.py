"""The words that the names here are made of, and those among them that somebody may have meant.

Trigrams do not find slips in names: "nowsu" and "nwosu" share none. A letter too many, missing or wrong is gone
when it is left out on both sides, and so are two that changed places. So each word is kept under itself and under
itself without its first, second or third letter; a slip further on leaves the first three letters as they are.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q

from clinic.patients.fields import begins
from clinic.patients.models import LONGEST_WORD, NameKey, Patient
from clinic.patients.rules import slip_keys, slips_allowed, word_distance

_LETTERS_OF_A_KEY = 3
_BEGUN, _NEAR = 24, 6


def learn(words: Iterable[str]) -> None:
    """In one order, so that two desks that write the same words wait for each other and never in a ring."""
    known = sorted(word for word in set(words) if len(word) <= LONGEST_WORD)
    rows = [NameKey(key=key, word=word) for word in known for key in sorted(slip_keys(word))]
    NameKey.objects.bulk_create(rows, ignore_conflicts=True)


def forget(words: Iterable[str]) -> None:
    """Those that no name holds any more: a slip that was mended is nobody's name."""
    for word in sorted(set(words)):
        if not Patient.objects.filter(search_text__holds=f" {word} ").exists():
            NameKey.objects.filter(word=word).delete()


@dataclass(frozen=True, slots=True)
class Meant:
    """Words of names that begin as was typed, and those that are written nearly so; the nearest first."""

    begun: Sequence[str] = ()
    near: Sequence[str] = ()


def meant(asked: Sequence[str]) -> Mapping[str, Meant]:
    """For each of the words that are long enough to hold a slip. One query."""
    long = [word for word in asked if slips_allowed(word)]
    wanted = Q()
    for key in {key[:_LETTERS_OF_A_KEY] for word in long for key in slip_keys(word)}:
        wanted |= begins("key", key)
    words = set(NameKey.objects.filter(wanted).values_list("word", flat=True)) if wanted else set()
    return {word: _nearest(word, words) for word in long}


def _nearest(asked: str, words: Iterable[str]) -> Meant:
    found = sorted((word_distance(asked, word), abs(len(word) - len(asked)), word) for word in words)
    begun = [word for slips, _more, word in found if slips == 0]
    near = [word for slips, _more, word in found if 0 < slips <= slips_allowed(asked)]
    return Meant(begun[:_BEGUN], near[:_NEAR])
