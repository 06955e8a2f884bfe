"""Local rules, against the table of facts by jurisdiction (secondary texts; see each row's source)."""

import csv
import re
from datetime import date
from decimal import Decimal

import pytest

from tests.data import rows
from tests.whitening.screening.someone import codes, outcome
from whitening.screening.facts import PatientFacts
from whitening.screening.grades import Profession, Quality
from whitening.screening.jurisdictions import (
    FILE,
    Jurisdiction,
    JurisdictionRefused,
    by_code,
    choices,
    jurisdictions,
    read_row,
    shipped_rows,
)
from whitening.screening.verdicts import facts_are_old, may_carry_out, may_examine, may_prescribe, strength_allowed

ALL = list(jurisdictions().values())
# Our own code of each row of the table; two of them name the level above their states and provinces.
OURS = {"US-FED": "US", "CA-FED": "CA"}
TABLE = {OURS.get(row["code"], row["code"]): row for row in rows("regulation_by_jurisdiction.csv")}
SIXTEEN = PatientFacts(date(2009, 8, 12))
EU, UK, US = (jurisdictions()[code] for code in ("EU", "UK", "US"))
DENTIST, HYGIENIST, NURSE = Profession.DENTIST, Profession.HYGIENIST, Profession.NURSE


def test_every_place_of_the_table_to_choose_from() -> None:
    assert set(jurisdictions()) == set(TABLE)
    assert len(TABLE) == 11
    assert [code for code, _name in choices()] == list(jurisdictions())
    assert len({str(name) for _code, name in choices()}) == 11


@pytest.mark.parametrize("place", ALL, ids=lambda place: place.code)
def test_figures_as_in_the_table(place: Jurisdiction) -> None:
    """Read from the table's own words: a figure at their beginning is a limit, anything else is none."""
    row = TABLE[place.code]
    # New Zealand's bands and Australia's and Japan's figures say who or what, not how much at most.
    cap = re.match(r"[\d.]+(?= \(present or released\)|$)", row["max_h2o2_professional_cosmetic_pct"])
    assert place.hp_cap_percent == (Decimal(cap.group()) if cap else None)
    pair = re.match(r"[\d.]+", row["carbamide_equivalent_pct"].replace("as EU", "16.62")) if cap else None
    assert place.carbamide_pair_percent == (Decimal(pair.group()) if pair else None)
    by_law = re.match(r"\d+", row["min_age"])
    assert (place.min_age, place.law_age) == (18, int(by_law.group()) if by_law else None)
    assert (place.exam_basis == "local") is row["exam_required"].startswith("yes")
    assert place.practice_writes is row["jurisdiction"].endswith((" states", " provinces"))
    # Seven days are asked of minors only, and nobody under 18 is treated.
    assert place.cooling_off_days == 0


@pytest.mark.parametrize("place", ALL, ids=lambda place: place.code)
def test_who_as_in_the_table(place: Jurisdiction) -> None:
    """Nobody carries it out whom the table does not name; of what it calls a state matter only the dentist is sure."""
    said = TABLE[place.code]["who_may_apply"]
    named = {DENTIST}
    named |= {HYGIENIST} if "hygienist" in said else set()
    named |= {Profession.THERAPIST} if "therapist" in said else set()
    named |= {Profession.CLINICAL_TECHNICIAN} if "technician" in said else set()
    # Registered practitioners are a kind of people; under direct supervision is whoever is supervised.
    wide = any(word in said for word in ("registered", "direct supervision", "state matter"))
    everybody = place.may_carry_out | place.on_prescription | place.under_supervision
    assert DENTIST in place.may_carry_out
    assert wide or everybody <= named
    assert not everybody & {NURSE, Profession.OTHER}


@pytest.mark.parametrize("place", ALL, ids=lambda place: place.code)
def test_every_row_says_where_from_how_well_and_when(place: Jurisdiction) -> None:
    assert len(place.source) > 25
    seen = TABLE[place.code]["retrieved_or_memory"]
    assert (place.quality is Quality.MEMORY) is (seen == "memory")
    # What the table read only in others' texts is never said to have been seen.
    if "secondary" in seen or "conflict" in seen or "only" in seen:
        assert place.quality is Quality.REPORTED
    if "memory" in seen + TABLE[place.code]["max_h2o2_professional_cosmetic_pct"]:
        assert "from memory" in f"{place.note} {place.source}".casefold() or place.quality is Quality.MEMORY
    assert date(2026, 11, 25) <= place.checked_on <= date(2026, 11, 29)
    assert (place.version, place.own) == ("1", None)


def test_age_rules_by_place() -> None:
    """Age in law: a must-not where the table of rules says so, a not-yet elsewhere, never both and never none."""
    law = next(row for row in rows("screening_rules.csv") if row["code"] == "AGE-01")["jurisdictions"].split(";")
    for place in ALL:
        found = codes(outcome(patient=SIXTEEN, jurisdiction=place))
        assert found == (["AGE-01"] if place.code in law else ["AGE-02"])
        assert outcome(patient=SIXTEEN, jurisdiction=place).not_before == date(2027, 8, 12)
        assert outcome(patient=SIXTEEN, jurisdiction=place, today=date(2027, 8, 12)).findings == ()


@pytest.mark.parametrize(
    ("place", "percent", "allowed"),
    [
        (EU, "6", True),
        (EU, "6.00", True),
        (EU, "6.01", False),
        (UK, "0.1", True),
        (UK, "37.5", False),
        (US, "40", True),
    ],
)
def test_strength_as_used(place: Jurisdiction, percent: str, allowed: bool) -> None:
    verdict = strength_allowed(jurisdiction=place, hp_percent=Decimal(percent))
    assert verdict.allowed is allowed
    assert str(place.name) in str(verdict.sentence)


def test_the_sentence_names_the_rule() -> None:
    assert str(strength_allowed(jurisdiction=EU, hp_percent=Decimal("10.00")).sentence) == (
        "10 % hydrogen peroxide is more than the 6 % (present or released, as used) that the local rules allow "
        "(European Union): Directive 2011/84/EU; now Regulation (EC) 1223/2009, Annex III entry 12. "
        "Choose a weaker gel."
    )


@pytest.mark.parametrize(
    ("place", "profession", "prescribed_by", "supervised_by", "allowed"),
    [
        (EU, DENTIST, None, None, True),
        (EU, HYGIENIST, None, None, False),
        (EU, HYGIENIST, DENTIST, None, False),
        (EU, HYGIENIST, None, DENTIST, True),
        (EU, HYGIENIST, None, HYGIENIST, False),
        (EU, NURSE, DENTIST, DENTIST, False),
        (UK, DENTIST, None, None, True),
        (UK, HYGIENIST, DENTIST, None, True),
        (UK, HYGIENIST, None, DENTIST, False),
        (UK, HYGIENIST, HYGIENIST, None, False),
        (UK, Profession.THERAPIST, DENTIST, None, True),
        (UK, Profession.CLINICAL_TECHNICIAN, DENTIST, None, True),
        (UK, NURSE, DENTIST, DENTIST, False),
        (US, HYGIENIST, DENTIST, None, True),
        (US, Profession.OTHER, DENTIST, DENTIST, False),
    ],
)
def test_who_may_carry_it_out(
    place: Jurisdiction,
    profession: Profession,
    prescribed_by: Profession | None,
    supervised_by: Profession | None,
    allowed: bool,
) -> None:
    verdict = may_carry_out(
        jurisdiction=place, profession=profession, prescribed_by=prescribed_by, supervised_by=supervised_by
    )
    assert verdict.allowed is allowed
    assert str(profession.label) in str(verdict.sentence)


def test_dentists_examine_and_prescribe() -> None:
    for place in ALL:
        assert [one for one in Profession if may_examine(jurisdiction=place, profession=one)] == [DENTIST]
        assert [one for one in Profession if may_prescribe(jurisdiction=place, profession=one)] == [DENTIST]


def test_after_a_year_somebody_looks_again() -> None:
    assert not facts_are_old(jurisdiction=UK, today=date(2027, 11, 25))
    assert facts_are_old(jurisdiction=UK, today=date(2027, 11, 26))


GOOD = next(csv.DictReader(FILE.read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("code", ""),
        ("name", " "),
        ("instrument", ""),
        ("source", " "),
        ("checked_on", "last year"),
        ("checked_on", "2026-02-30"),
        ("quality", "sure"),
        ("may_examine", "barber"),
        ("may_examine", ""),
        ("may_carry_out", ""),
        ("may_carry_out", "dentist hygienist"),
        ("hp_cap_percent", "six"),
        ("hp_cap_percent", "0"),
        ("hp_cap_percent", "-6"),
        ("hp_cap_percent", "NaN"),
        ("hp_cap_percent", "Infinity"),
        ("hp_cap_percent", "6.001"),
        ("hp_cap_percent", "51"),
        ("cap_basis", ""),
        ("carbamide_pair_percent", "16,6"),
        ("cooling_off_days", "a week"),
        ("cooling_off_days", "-1"),
        ("cooling_off_days", "91"),
        ("min_age", "16"),
        ("min_age", "17"),
        ("min_age", "100"),
        ("min_age", ""),
        ("min_age", "²1"),
        ("age_basis", "custom"),
        ("exam_basis", ""),
        ("clinician_in_cycles", "perhaps"),
        ("practice_writes", ""),
    ],
)
def test_a_faulty_row_is_refused(column: str, value: str) -> None:
    assert read_row(GOOD).code == "EU"
    with pytest.raises(JurisdictionRefused) as refused:
        read_row(GOOD | {column: value})
    assert refused.value.column == column
    assert str(refused.value.sentence)


def test_whoever_works_on_prescription_needs_a_prescriber() -> None:
    with pytest.raises(JurisdictionRefused, match="name who may prescribe"):
        read_row(dict(shipped_rows()["UK"][0]) | {"may_prescribe": ""})


@pytest.mark.parametrize("row", [GOOD | {"sorce": "x"}, {name: GOOD[name] for name in GOOD if name != "note"}])
def test_a_misspelt_column_is_refused(row: dict[str, str]) -> None:
    with pytest.raises(JurisdictionRefused, match="exactly the columns"):
        read_row(row)


def test_an_old_version_stays_beside_the_new_one() -> None:
    newer = GOOD | {"version": "2", "hp_cap_percent": "5"}
    assert [row["hp_cap_percent"] for row in by_code([GOOD, newer])["EU"]] == ["6", "5"]
    for wrong in ([newer], [GOOD, GOOD], [newer, GOOD]):
        with pytest.raises(JurisdictionRefused, match="count up from 1"):
            by_code(wrong)
