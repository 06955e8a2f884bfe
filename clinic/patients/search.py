"""Finding a patient while somebody types: name, telephone, e-mail or date of birth.

A register of a million patients is searched by indexes alone. B-trees give the first few of those whose name begins
so, in order and without reading the others: one or two letters begin a great many. Only what they do not give is
looked for by trigrams, in any part of a name, and only what nobody is called is taken for a slip.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import phonenumbers
from django.core.exceptions import ValidationError
from django.db.models import Q, Value
from django.db.models.functions import Concat

from clinic.accounts.fields import TypedDateField
from clinic.accounts.models import Site, User
from clinic.patients import spelling
from clinic.patients.beginnings import Beginning, first_that_begin
from clinic.patients.models import Patient, PatientQuerySet
from clinic.patients.rules import Identity, Sameness, digits, folded, name_score, same_person

LIMIT = 10
_MONTH_AS_WORD = ["%d %b %Y", "%d %B %Y"]
# How many found rows are ranked; how many words of a name count.
_RANKED, _WORDS = 40, 6
# So many digits that begin a number are not looked for inside of others besides.
_SURE_DIGITS = 6
# Fewer than so many may mean that the one who is looked for is written otherwise.
_FEW = 3
# In the order of the text, but by no index: PostgreSQL would rather walk through one in the hope of an early end.
_BY_TEXT = Concat("search_text", Value(""))


@dataclass(frozen=True, slots=True)
class _Sites:
    """Where the person who asks works."""

    ids: Sequence[int]
    countries: frozenset[str]

    @property
    def patients(self) -> PatientQuerySet:
        return Patient.objects.filter(site__in=self.ids, merged_into=None)


def find(*, asked: str, user: User, limit: int = LIMIT) -> list[Patient]:
    """At most limit patients, best first. Six queries at most, however many patients there are."""
    text = asked.replace("\x00", "").strip()[:100]
    if not text:
        return []
    places = set(user.memberships.values_list("site_id", "site__country"))
    sites = _Sites(sorted(pk for pk, _country in places), frozenset(country for _pk, country in places))
    if (birth_on := as_date(text)) is not None:
        return list(sites.patients.filter(birth_on=birth_on).order_by("search_name", "pk")[:limit])
    if "@" in text:
        return _by_email(sites, text.casefold())[:limit]
    if not any(letter.isalpha() for letter in text):
        return _by_phone(sites, text)[:limit]
    return _by_name(sites, folded(text).split()[:_WORDS], limit)


def as_date(text: str) -> date | None:
    """A whole date, typed in any of the ways that the form takes it; None for anything else."""
    try:
        found: date | None = TypedDateField(required=False, input_formats=_MONTH_AS_WORD).clean(text)
    except ValidationError:
        return None
    return found


def likely_duplicates(*, identity: Identity, site: Site, without: int | None = None) -> list[tuple[Patient, Sameness]]:
    """Rows that may be this person, with the reason. One query."""
    wanted = Q()
    if identity.birth_on:
        wanted |= Q(birth_on=identity.birth_on)
    if len(identity.digits) >= 7:
        wanted |= Q(search_text__holds=f"{identity.digits[-9:]} ")
    if identity.email:
        wanted |= Q(search_text__holds=f" {identity.email.casefold()} ")
    if not wanted:
        return []
    rows = Patient.objects.filter(wanted, site=site, merged_into=None).order_by(_BY_TEXT, "pk")
    if without is not None:
        rows = rows.exclude(pk=without)
    found = [(row, same_person(identity, identity_of(row))) for row in rows[:200]]
    return [(row, why) for row, why in found if why is not None]


def identity_of(patient: Patient) -> Identity:
    return Identity(patient.name, patient.birth_on, patient.search_digits, patient.email)


def _by_email(sites: _Sites, text: str) -> list[Patient]:
    """From its beginning, or any part of it that holds more than what everybody's address ends in."""
    for part in (f"  {text}", text if text[0] != "@" else ""):
        found = list(sites.patients.filter(search_text__holds=part).order_by(_BY_TEXT, "pk")[:LIMIT]) if part else []
        if found:
            return found
    return []


def _by_phone(sites: _Sites, text: str) -> list[Patient]:
    """Numbers are kept with their country code, so the zeros that stand for it, or for the trunk line, are dropped."""
    asked = digits(text.replace("(0)", "")).lstrip("0")
    if len(asked) < 3:
        return []
    codes = ("", *sorted(str(phonenumbers.country_code_for_region(country)) for country in sites.countries))
    found = first_that_begin(sites.ids, [Beginning("search_digits", code + asked) for code in codes], LIMIT)
    if len(found) < LIMIT and not (found and len(asked) >= _SURE_DIGITS):
        found = _with(found, sites.patients.filter(search_text__holds=asked).order_by(_BY_TEXT, "pk")[:_RANKED])
    return [one for one in found if asked in one.search_digits]


def _by_name(sites: _Sites, words: Sequence[str], limit: int) -> list[Patient]:
    if not words:
        return []
    found = sorted(_as_typed(sites, words), key=lambda one: _rank(one, words))[:limit]
    if len(found) < _FEW and not any(_is_called(one, words) for one in found):
        scored = [(name_score(words, one.search_name.split()), one) for one in _as_meant(sites, words)]
        hits = [(score, one.search_name, one.pk, one) for score, one in scored if score is not None]
        found = _with(found, [hit[-1] for hit in sorted(hits, key=lambda hit: hit[:3])])[:limit]
    return found


def _as_typed(sites: _Sites, words: Sequence[str]) -> list[Patient]:
    """Patients whose names begin so, then those in whose names each word is found somewhere. Two queries."""
    phrase = " ".join(words)
    found = first_that_begin(sites.ids, [Beginning(name, phrase) for name in ("search_name", "search_turned")], LIMIT)
    if len(found) >= LIMIT:
        return found
    rows = sites.patients
    # Where several words are somebody's whole name, they are looked for as names and not inside of longer ones.
    is_whole = len(words) > 1 and any(_is_called(one, words) for one in found)
    for word in words:
        rows = rows.filter(search_name__holds_one_of=word) if is_whole else rows.filter(search_text__holds=_part(word))
    return _with(found, rows.order_by(_BY_TEXT, "pk")[:_RANKED])


def _as_meant(sites: _Sites, words: Sequence[str]) -> list[Patient]:
    """Patients whose names hold, for each word, one that begins so or is written nearly so. Three queries."""
    meant = spelling.meant(words)
    if not any(one.near for one in meant.values()) or not all(one.begun or one.near for one in meant.values()):
        return []
    found: list[Patient] = []
    if len(words) == 1:
        # One name alone may be that of thousands.
        starts = [Beginning(name, near) for near in meant[words[0]].near for name in ("search_name", "search_turned")]
        found = first_that_begin(sites.ids, starts, LIMIT)
        if len(found) >= LIMIT:
            return found
    rows = sites.patients
    for word in words:
        if one := meant.get(word):
            rows = rows.filter(search_name__holds_one_of=" ".join((*one.begun, *one.near)))
        else:
            rows = rows.filter(search_text__holds=_part(word))
    return _with(found, rows.order_by(_BY_TEXT, "pk")[:_RANKED])


def _part(word: str) -> str:
    """Few letters are inside of nearly every name: they count at the beginning of a word only."""
    return word if len(word) >= 4 else f" {word}".rjust(3)


def _is_called(patient: Patient, words: Sequence[str]) -> bool:
    return set(words) <= set(patient.search_name.split())


def _rank(patient: Patient, words: Sequence[str]) -> tuple[int, int, str, int]:
    """Whole words before beginnings, and both before what only stands inside a word."""
    name = f" {patient.search_name} "
    inside = sum(f" {word}" not in name for word in words)
    unfinished = sum(f" {word} " not in name for word in words)
    return inside, unfinished, patient.search_name, patient.pk


def _with(found: Sequence[Patient], more: Iterable[Patient]) -> list[Patient]:
    known = {one.pk for one in found}
    return [*found, *(one for one in more if one.pk not in known)]
