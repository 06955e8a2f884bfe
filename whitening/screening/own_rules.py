"""What a practice writes over a shipped local rule: which columns, how the two meet, what it may not loosen.

The law is nobody's to decide away: a limit on strength and an age may only be made stricter here. A looser one comes
with a new version of the program, whose row then names its source.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext_lazy as _

from whitening.screening.jurisdictions import (
    LAW,
    POLICY,
    Jurisdiction,
    JurisdictionRefused,
    OwnRow,
    jurisdictions,
    read_row,
    shipped_rows,
)
from whitening.screening.words import Words

# Set as one group of people: of these a profession stands in one, so a change of one is a change of all.
BONDS: Final = ("may_carry_out", "on_prescription", "under_supervision")
EDITABLE: Final = (
    "hp_cap_percent",
    "cap_basis",
    "carbamide_pair_percent",
    "min_age",
    "age_basis",
    "may_examine",
    "may_prescribe",
    *BONDS,
    "exam_basis",
    "cooling_off_days",
    "clinician_in_cycles",
    "instrument",
    "note",
)


def in_force(code: str, own: OwnRow | None, *, version: str | None = None) -> Jurisdiction | None:
    """The shipped row with what the practice wrote over it; None for a code that this program does not know.

    version: an earlier one of the shipped row. What is stricter of strength and age holds, so that neither an old
    change of the practice nor a new row of the program loosens the other.
    """
    rows = shipped_rows().get(code, ())
    row = next((one for one in reversed(rows) if version in {None, one["version"]}), None)
    if row is None:
        return None
    if own is None:
        return jurisdictions()[code] if row is rows[-1] else read_row(row)
    return _merged(row, own)


def _merged(row: Mapping[str, str], own: OwnRow) -> Jurisdiction:
    shipped = read_row(row)
    mine = read_row({**row, **own.values, "checked_on": own.checked_on.isoformat()})
    cap, min_age = _stricter(shipped.hp_cap_percent, mine.hp_cap_percent), max(shipped.min_age, mine.min_age)
    law_age = max((age for age in (shipped.law_age, mine.law_age) if age is not None), default=None)
    # A figure of the practice that the program's own has overtaken is no longer the practice's.
    overtaken = {"hp_cap_percent"} if cap != mine.hp_cap_percent else set()
    overtaken |= {"min_age", "age_basis"} if min_age != mine.min_age else set()
    return replace(
        mine,
        version=f"{shipped.version}.{own.version}",
        hp_cap_percent=cap,
        min_age=min_age,
        law_age=law_age,
        age_basis=LAW if law_age == min_age else POLICY,
        own=replace(own, values={name: text for name, text in own.values.items() if name not in overtaken}),
    )


def _stricter(one: Decimal | None, other: Decimal | None) -> Decimal | None:
    return min((cap for cap in (one, other) if cap is not None), default=None)


def looser_than_law(*, shipped: Jurisdiction, values: Mapping[str, str]) -> list[JurisdictionRefused]:
    """What of these columns would be looser than the shipped row. Raises JurisdictionRefused for what is unreadable."""
    row = shipped_rows()[shipped.code][int(shipped.version) - 1]
    return [JurisdictionRefused(shipped.code, *found) for found in _looser(shipped, read_row({**row, **values}))]


def _looser(shipped: Jurisdiction, mine: Jurisdiction) -> Iterator[tuple[str, Words]]:
    cap, age = shipped.hp_cap_percent, shipped.min_age
    if cap is not None and (mine.hp_cap_percent is None or mine.hp_cap_percent > cap):
        sentence = _(
            "At most %(cap)s %%, the limit that this program holds for the law. A looser one comes with a new version "
            "of the program."
        )
        yield "hp_cap_percent", sentence % {"cap": cap.normalize() + 0}
    if cap is not None and str(mine.cap_basis) != str(shipped.cap_basis):
        yield "cap_basis", _("What the limit counts stands in law here. It changes with a new version of the program.")
    if mine.min_age < age:
        sentence = _(
            "At least %(age)d, the age that this program holds. A lower one comes with a new version of the program, "
            "and never one under 18."
        )
        yield "min_age", sentence % {"age": age}
    if shipped.age_basis == LAW and mine.age_basis != LAW and mine.min_age == age:
        yield (
            "age_basis",
            _("This age stands in law here. That it no longer does comes with a new version of the program."),
        )


def changed(*, shipped: Mapping[str, str], typed: Mapping[str, str]) -> dict[str, str]:
    """The editable columns that say something else than the shipped row: a practice's own row holds no more."""
    before, after = read_row(shipped), read_row({**shipped, **typed})
    names = {name for name in EDITABLE if getattr(before, name) != getattr(after, name)}
    if names & set(BONDS):
        names |= set(BONDS)
    return {name: typed[name] for name in EDITABLE if name in names}


def is_behind(jurisdiction: Jurisdiction) -> bool:
    """The program brought a newer row since the practice wrote over it."""
    return jurisdiction.own is not None and jurisdiction.own.made_over != jurisdiction.version.partition(".")[0]


def columns_in_force(code: str, own: OwnRow | None) -> dict[str, str]:
    """The editable columns as the file writes them, untranslated: what a form begins with."""
    row, place = shipped_rows()[code][-1], in_force(code, own)
    held: dict[str, str] = {**row, **(own.values if own else {})}
    if place is not None:
        cap = place.hp_cap_percent
        held |= {"hp_cap_percent": "" if cap is None else str(cap), "min_age": str(place.min_age)}
        held["age_basis"] = place.age_basis
    return {name: held[name] for name in EDITABLE}
