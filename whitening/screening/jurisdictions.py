"""What local rules say about strength, age and who may do what. Data with sources and the day they were checked.

None of it is legal advice: each row says how far its source was followed, and a practice's own dentist
and lawyer sign it off. A row that changes gets the next version beside the old one, which stays: a plan
keeps the version that it was judged by. What a practice writes over a row is read by the same reader.
"""

import csv
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from django.utils.translation import gettext_lazy as _

from clinic.patients.rules import ADULT_AT
from whitening.screening.grades import Profession, Quality
from whitening.screening.words import Words, words

FILE = Path(__file__).parent / "data" / "jurisdictions.csv"
LAW, POLICY, LOCAL = "law", "policy", "local"
# Bounds of sense, no law: a plan holds no more than 50 %, and nobody is asked to think for longer than a season.
PERCENT_MOST: Final = Decimal(50)
AGE_MOST: Final = 99
COOLING_OFF_MOST: Final = 90


class JurisdictionRefused(ValueError):
    """A row lacks its source, its date or a readable figure. column: which of them, empty for the row as a whole."""

    def __init__(self, code: str, column: str, sentence: Words) -> None:
        self.column, self.sentence = column, sentence
        super().__init__(f"{code}: {column}: {sentence}")


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRow:
    """What a practice wrote over a shipped row: the columns that differ, why, and where it was looked up.

    made_over: the version of the shipped row that was there then.
    """

    version: int
    values: Mapping[str, str]
    made_over: str
    reason: str
    source: str
    quality: Quality
    checked_on: date


@dataclass(frozen=True, slots=True)
class Jurisdiction:
    code: str
    version: str
    name: Words
    instrument: str
    # None: no cap was found; that is not the same as permission.
    hp_cap_percent: Decimal | None
    cap_basis: Words
    carbamide_pair_percent: Decimal | None
    min_age: int
    age_basis: str
    may_examine: frozenset[Profession]
    may_prescribe: frozenset[Profession]
    may_carry_out: frozenset[Profession]
    on_prescription: frozenset[Profession]
    under_supervision: frozenset[Profession]
    # This program asks for an examination in every course, whether local rules do (local) or not (policy).
    exam_basis: str
    cooling_off_days: int
    # Local rules differ within the place: the practice has to write in its own.
    practice_writes: bool
    source: str
    quality: Quality
    checked_on: date
    note: Words
    # Whether a clinician stays with the patient through the cycles; otherwise no rule was found that says so.
    clinician_in_cycles: bool
    cycles_source: str
    # The age that the law names; None where only a policy does.
    law_age: int | None = None
    own: OwnRow | None = None

    def source_of(self, column: str) -> str:
        return self.own.source if self.own and column in self.own.values else self.source


@cache
def jurisdictions() -> Mapping[str, Jurisdiction]:
    """The newest shipped version of each, without what a practice wrote over it."""
    return MappingProxyType({code: read_row(rows[-1]) for code, rows in shipped_rows().items()})


@cache
def shipped_rows() -> Mapping[str, tuple[Mapping[str, str], ...]]:
    """The rows of the file as they stand there, every version of each code, the newest last."""
    return MappingProxyType(by_code(csv.DictReader(FILE.read_text(encoding="utf-8").splitlines())))


def by_code(rows: Iterable[Mapping[str, str]]) -> dict[str, tuple[Mapping[str, str], ...]]:
    """Every row is read once, so that a faulty one stops the program, an old version too."""
    found: dict[str, tuple[Mapping[str, str], ...]] = {}
    for row in rows:
        place = read_row(row)
        held = found.get(place.code, ())
        if place.version != str(len(held) + 1):
            sentence = _("Versions count up from 1, and the old ones stay.")
            raise JurisdictionRefused(place.code, "version", sentence)
        found[place.code] = (*held, MappingProxyType(dict(row)))
    return found


def choices() -> list[tuple[str, Words]]:
    """For Set-up. There is no first choice: somebody has to choose."""
    return [(found.code, found.name) for found in jurisdictions().values()]


def read_row(row: Mapping[str, str]) -> Jurisdiction:
    """One row, shipped or edited. Raises JurisdictionRefused, which names the column."""
    code = str(row.get("code") or "?")
    if strangers := {*_COLUMNS} ^ {*row}:
        raise JurisdictionRefused(code, str(min(map(str, strangers))), _("A row has exactly the columns of the file."))
    values: dict[str, Any] = {}
    for column, read in _COLUMNS.items():
        try:
            values[column] = read((row[column] or "").strip())
        except _Unreadable as fault:
            raise JurisdictionRefused(code, column, fault.sentence) from fault
    place = Jurisdiction(**values, law_age=values["min_age"] if values["age_basis"] == LAW else None)
    _check_people(place)
    return place


def _check_people(place: Jurisdiction) -> None:
    """Somebody has to be able to treat, and one bond holds for each profession: not two that contradict each other."""
    for column in ("may_examine", "may_carry_out"):
        if not getattr(place, column):
            raise JurisdictionRefused(place.code, column, _("Name at least one profession."))
    bonds = (place.may_carry_out, place.on_prescription, place.under_supervision)
    if sum(map(len, bonds)) != len(frozenset().union(*bonds)):
        raise JurisdictionRefused(place.code, "may_carry_out", _("Name each profession once."))
    if place.on_prescription and not place.may_prescribe:
        sentence = _("Somebody works on prescription: name who may prescribe.")
        raise JurisdictionRefused(place.code, "may_prescribe", sentence)


class _Unreadable(ValueError):
    def __init__(self, sentence: Words) -> None:
        self.sentence = sentence
        super().__init__(str(sentence))


def _text(text: str) -> str:
    if not text:
        raise _Unreadable(_("This cannot stay empty."))
    return text


def _words(text: str) -> Words:
    return words(_text(text))


def _percent(text: str) -> Decimal | None:
    if not text:
        return None
    sentence = _("A number above 0 and up to 50, with at most two decimals; nothing where no limit is known.")
    try:
        percent = Decimal(text)
        exponent = percent.as_tuple().exponent
        holds = percent.is_finite() and 0 < percent <= PERCENT_MOST and isinstance(exponent, int) and exponent >= -2
    except InvalidOperation:
        holds = False
    if not holds:
        raise _Unreadable(sentence)
    return percent


def _whole(least: int, most: int, sentence: Words) -> Callable[[str], int]:
    def read(text: str) -> int:
        if not (text.isascii() and text.isdecimal() and len(text) < 4 and least <= int(text) <= most):
            raise _Unreadable(sentence)
        return int(text)

    return read


def _one_of(*known: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in known:
            raise _Unreadable(_("Choose one from the list."))
        return text

    return read


def _yes(*, other: str) -> Callable[[str], bool]:
    read = _one_of("yes", other)
    return lambda text: read(text) == "yes"


def _professions(text: str) -> frozenset[Profession]:
    if set(text.split()) - set(Profession):
        raise _Unreadable(_("Choose from the professions that the program knows."))
    return frozenset(Profession(name) for name in text.split())


def _quality(text: str) -> Quality:
    return Quality(_one_of(*Quality)(text))


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise _Unreadable(_("A day, as year, month, day.")) from None


_COLUMNS: Final[Mapping[str, Callable[[str], Any]]] = {
    "code": _text,
    "version": _text,
    "name": _words,
    "instrument": _text,
    "hp_cap_percent": _percent,
    "cap_basis": _words,
    "carbamide_pair_percent": _percent,
    # Never under 18, whatever a place or a practice would permit.
    "min_age": _whole(ADULT_AT, AGE_MOST, _("This program plans for people of 18 and over: 18 to 99.")),
    "age_basis": _one_of(LAW, POLICY),
    "may_examine": _professions,
    "may_prescribe": _professions,
    "may_carry_out": _professions,
    "on_prescription": _professions,
    "under_supervision": _professions,
    "exam_basis": _one_of(LOCAL, POLICY),
    "cooling_off_days": _whole(0, COOLING_OFF_MOST, _("Whole days, 0 to 90.")),
    "practice_writes": _yes(other="no"),
    "source": _text,
    "quality": _quality,
    "checked_on": _date,
    "note": words,
    "clinician_in_cycles": _yes(other="unsettled"),
    "cycles_source": _text,
}
