"""What local rules say about strength, age and who may do what. Data with sources and the day they were checked.

None of it is legal advice: each row says how far its source was followed, and a practice's own dentist
and lawyer sign it off.
"""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from types import MappingProxyType

from dateutil.relativedelta import relativedelta
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from clinic.patients.rules import ADULT_AT
from whitening.screening.grades import Profession, Quality
from whitening.screening.words import Words, words

FILE = Path(__file__).parent / "data" / "jurisdictions.csv"


class JurisdictionRefused(ValueError):
    """A row lacks its source, its date or a readable figure."""


@dataclass(frozen=True, slots=True)
class Jurisdiction:
    code: str
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
    exam_each_course: bool
    cooling_off_days: int
    source: str
    quality: Quality
    checked_on: date
    note: Words
    # Whether a clinician stays with the patient through the cycles; otherwise no rule was found that says so.
    clinician_in_cycles: bool
    cycles_source: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """Allowed or not, and the sentence that names the rule."""

    allowed: bool
    sentence: Words


@cache
def jurisdictions() -> Mapping[str, Jurisdiction]:
    rows = csv.DictReader(FILE.read_text(encoding="utf-8").splitlines())
    return MappingProxyType(read_jurisdictions(rows))


def read_jurisdictions(rows: Iterable[Mapping[str, str]]) -> dict[str, Jurisdiction]:
    return {row["code"]: _jurisdiction(row) for row in rows}


def choices() -> list[tuple[str, Words]]:
    """For Set-up. There is no first choice: somebody has to choose."""
    return [(found.code, found.name) for found in jurisdictions().values()]


def _jurisdiction(row: Mapping[str, str]) -> Jurisdiction:
    if not row["source"].strip():
        raise JurisdictionRefused(f"{row['code']}: a source is missing")
    # The age rules count to the 18th birthday; a place with another age needs a rule of its own first.
    if row["min_age"] != str(ADULT_AT):
        raise JurisdictionRefused(f"{row['code']}: this program plans for people of {ADULT_AT} and over")
    try:
        return Jurisdiction(
            code=row["code"],
            name=words(row["name"]),
            instrument=row["instrument"],
            hp_cap_percent=_percent(row["hp_cap_percent"]),
            cap_basis=words(row["cap_basis"]),
            carbamide_pair_percent=_percent(row["carbamide_pair_percent"]),
            min_age=int(row["min_age"]),
            age_basis=row["age_basis"],
            may_examine=_professions(row["may_examine"]),
            may_prescribe=_professions(row["may_prescribe"]),
            may_carry_out=_professions(row["may_carry_out"]),
            on_prescription=_professions(row["on_prescription"]),
            under_supervision=_professions(row["under_supervision"]),
            exam_each_course=row["exam_each_course"] == "yes",
            cooling_off_days=int(row["cooling_off_days"]),
            source=row["source"],
            quality=Quality(row["quality"]),
            checked_on=date.fromisoformat(row["checked_on"]),
            note=words(row["note"]),
            clinician_in_cycles=_in_cycles(row["clinician_in_cycles"]),
            cycles_source=_sourced(row["cycles_source"]),
        )
    except (ValueError, ArithmeticError) as fault:
        raise JurisdictionRefused(f"{row['code']}: {fault}") from fault


def _in_cycles(text: str) -> bool:
    if text not in {"yes", "unsettled"}:
        raise ValueError(f"{text!r} does not say whether a clinician stays through the cycles")
    return text == "yes"


def _sourced(text: str) -> str:
    if not text.strip():
        raise ValueError("a source for the cycles is missing")
    return text


def _percent(text: str) -> Decimal | None:
    return Decimal(text) if text else None


def _professions(text: str) -> frozenset[Profession]:
    return frozenset(Profession(name) for name in text.split())


def strength_allowed(*, jurisdiction: Jurisdiction, hp_percent: Decimal) -> Verdict:
    """The test is on hydrogen peroxide as used, as the label or the maker states it."""
    # Never computed from a carbamide factor alone: authorities pair 6 % with 16.6, 17 and 18 %.
    cap = jurisdiction.hp_cap_percent
    if cap is None:
        return Verdict(
            True,
            format_lazy(
                _("No limit on strength was found for {place}. The maker's instructions and the dentist decide."),
                place=jurisdiction.name,
            ),
        )
    sentence = (
        _("{strength} % hydrogen peroxide is within the limit of {cap} % ({basis}) in {place}.")
        if hp_percent <= cap
        else _(
            "{strength} % hydrogen peroxide is more than the {cap} % ({basis}) allowed in {place}: "
            "{instrument}. Choose a weaker gel."
        )
    )
    return Verdict(
        hp_percent <= cap,
        format_lazy(
            sentence,
            strength=hp_percent.normalize() + 0,
            cap=cap,
            basis=jurisdiction.cap_basis,
            place=jurisdiction.name,
            instrument=jurisdiction.instrument,
        ),
    )


def may_carry_out(
    *,
    jurisdiction: Jurisdiction,
    profession: Profession,
    prescribed_by: Profession | None,
    supervised_by: Profession | None,
) -> Verdict:
    """May this person put the gel on here, given who prescribed it and which dentist is at hand."""
    facts = {"profession": profession.label, "place": jurisdiction.name}
    if profession in jurisdiction.may_carry_out:
        return Verdict(True, format_lazy(_("A {profession} may carry out whitening in {place}."), **facts))
    # A prescription and supervision are different bonds: the one does not stand in for the other.
    if profession in jurisdiction.on_prescription:
        if prescribed_by in jurisdiction.may_prescribe:
            return Verdict(True, format_lazy(_("A {profession} may carry it out in {place} on prescription."), **facts))
        wanted = _(
            "A {profession} may carry it out in {place} only on a dentist's prescription. Record who prescribed it."
        )
        return Verdict(False, format_lazy(wanted, **facts))
    if profession in jurisdiction.under_supervision:
        if supervised_by in jurisdiction.may_carry_out:
            return Verdict(True, format_lazy(_("A {profession} may carry it out in {place} under a dentist."), **facts))
        wanted = _(
            "A {profession} may carry it out in {place} only under a dentist's supervision. Record which dentist."
        )
        return Verdict(False, format_lazy(wanted, **facts))
    refused = _("A {profession} may not carry out whitening in {place}. Name somebody who may.")
    return Verdict(False, format_lazy(refused, **facts))


def may_examine(*, jurisdiction: Jurisdiction, profession: Profession) -> bool:
    return profession in jurisdiction.may_examine


def may_prescribe(*, jurisdiction: Jurisdiction, profession: Profession) -> bool:
    return profession in jurisdiction.may_prescribe


def facts_are_old(*, jurisdiction: Jurisdiction, today: date) -> bool:
    """Law moves: after a year somebody looks again."""
    return today > jurisdiction.checked_on + relativedelta(years=1)
