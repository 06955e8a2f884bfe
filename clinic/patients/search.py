"""Finding a patient while somebody types: name, telephone, e-mail or date of birth."""

from collections.abc import Sequence
from datetime import date

from django.core.exceptions import ValidationError
from django.db.models import Q

from clinic.accounts.fields import TypedDateField
from clinic.accounts.models import Site, User
from clinic.patients.models import Patient, PatientQuerySet
from clinic.patients.rules import Identity, Sameness, digits, folded, name_score, same_person

_MONTH_AS_WORD = ["%d %b %Y", "%d %B %Y"]
# How many rows the slip-tolerant pass looks at; beyond it only exact parts of a name are found.
_FUZZY_ROWS = 3000


def find(*, asked: str, user: User, limit: int = 12) -> list[Patient]:
    """At most limit patients, best first. Three queries at most."""
    visible = Patient.objects.visible_to(user)
    text = asked.replace("\x00", "").strip()[:100]
    if not text:
        return []
    if (birth_on := as_date(text)) is not None:
        return _by_fact(visible, Q(birth_on=birth_on), limit)
    if "@" in text:
        return _by_fact(visible, Q(email__icontains=text), limit)
    if not any(letter.isalpha() for letter in text):
        return _by_phone(visible, text, limit)
    # Without its @ an address looks like a name; asked only where no name fits.
    return _by_name(visible, folded(text).split(), limit) or _by_fact(visible, Q(email__icontains=text), limit)


def as_date(text: str) -> date | None:
    """A whole date, typed in any of the ways that the form takes it; None for anything else."""
    try:
        found: date | None = TypedDateField(required=False, input_formats=_MONTH_AS_WORD).clean(text)
    except ValidationError:
        return None
    return found


def likely_duplicates(*, identity: Identity, site: Site, without: int | None = None) -> list[tuple[Patient, Sameness]]:
    """Rows that may be this person, with the reason. One query."""
    wanted = Q(pk=None)
    if identity.birth_on:
        wanted |= Q(birth_on=identity.birth_on)
    if len(identity.digits) >= 7:
        wanted |= Q(search_digits__endswith=identity.digits[-9:])
    if identity.email:
        wanted |= Q(email__iexact=identity.email)
    rows = Patient.objects.filter(wanted, site=site, merged_into=None).order_by("search_name", "pk")
    if without is not None:
        rows = rows.exclude(pk=without)
    found = [(row, same_person(identity, identity_of(row))) for row in rows[:200]]
    return [(row, why) for row, why in found if why is not None]


def identity_of(patient: Patient) -> Identity:
    return Identity(patient.name, patient.birth_on, patient.search_digits, patient.email)


def _by_fact(visible: PatientQuerySet, fact: Q, limit: int) -> list[Patient]:
    return list(visible.filter(fact).order_by("search_name", "pk")[:limit])


def _by_phone(visible: PatientQuerySet, text: str, limit: int) -> list[Patient]:
    """Numbers are kept with their country code, so the zeros that stand for it, or for the trunk line, are dropped."""
    asked = digits(text.replace("(0)", "")).lstrip("0")
    return _by_fact(visible, Q(search_digits__contains=asked), limit) if len(asked) >= 3 else []


def _by_name(visible: PatientQuerySet, words: Sequence[str], limit: int) -> list[Patient]:
    if not words:
        return []
    exact = visible
    for word in words:
        exact = exact.filter(search_name__contains=word)
    found = sorted(exact.order_by("search_name", "pk")[: limit * 8], key=lambda one: _rank(one, words))[:limit]
    if len(found) < 3:
        found += _with_slips(visible, words, limit - len(found), {one.pk for one in found})
    return found


def _rank(patient: Patient, words: Sequence[str]) -> tuple[int, str]:
    """Names in which the words begin a word come before those that hold them inside."""
    inside = sum(f" {word}" not in f" {patient.search_name}" for word in words)
    return inside, patient.search_name


def _with_slips(visible: PatientQuerySet, words: Sequence[str], limit: int, known: set[int]) -> list[Patient]:
    """Rows whose names the words nearly begin. A slip in the first two letters is found through either of them."""
    starts = Q(pk=None)
    for letter in words[0][:2]:
        starts |= Q(search_name__startswith=letter) | Q(search_name__contains=f" {letter}")
    rows = visible.filter(starts).exclude(pk__in=known).order_by("-pk")[:_FUZZY_ROWS]
    scored = [(name_score(words, row.search_name.split()), row) for row in rows]
    hits = [(score, row.search_name, row) for score, row in scored if score is not None]
    return [row for _, _, row in sorted(hits, key=lambda hit: hit[:2])[:limit]]
