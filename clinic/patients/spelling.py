"""The words that the names here are made of, and those among them that somebody may have meant.

Trigrams do not find slips in names: "nowsu" and "nwosu" share none. A letter too many, missing or wrong is gone
when it is left out on both sides, and so are two that changed places. So each word is kept under itself and under
itself without its first, second or third letter; a slip further on leaves the first three letters as they are.
"""

from collections.abc import Iterable, Mapping, Sequence

from django.db.models import Q

from clinic.patients.fields import begins
from clinic.patients.models import LONGEST_WORD, NameKey, Patient
from clinic.patients.rules import slip_keys, slips_allowed, word_distance

_LETTERS_OF_A_KEY = 3
_MEANT = 6


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


def meant(asked: Sequence[str]) -> Mapping[str, list[str]]:
    """For each word that was typed, the nearest words of names, itself first where one begins so. One query."""
    wanted = Q()
    for key in {key[:_LETTERS_OF_A_KEY] for word in asked if slips_allowed(word) for key in slip_keys(word)}:
        wanted |= begins("key", key)
    words = set(NameKey.objects.filter(wanted).values_list("word", flat=True)) if wanted else set()
    return {word: _nearest(word, words) for word in asked}


def _nearest(asked: str, words: Iterable[str]) -> list[str]:
    allowed = slips_allowed(asked)
    if not allowed:
        return [asked]
    found = sorted((word_distance(asked, word), abs(len(word) - len(asked)), word) for word in words)
    near = [word for slips, _more, word in found if 0 < slips <= allowed][:_MEANT]
    begun = any(slips == 0 for slips, _more, _word in found[:1])
    return [asked, *near] if begun or not near else near
