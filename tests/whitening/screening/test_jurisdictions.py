"""Local rules, against the table of facts by jurisdiction (secondary texts; see each row's source)."""

import csv
from datetime import date
from decimal import Decimal

import pytest

from tests.data import rows
from whitening.screening.grades import Profession, Quality
from whitening.screening.jurisdictions import (
    FILE,
    Jurisdiction,
    JurisdictionRefused,
    choices,
    facts_are_old,
    jurisdictions,
    may_carry_out,
    may_examine,
    may_prescribe,
    read_jurisdictions,
    strength_allowed,
)

EU, UK, US = (jurisdictions()[code] for code in ("EU", "UK", "US"))
DENTIST, HYGIENIST, NURSE = Profession.DENTIST, Profession.HYGIENIST, Profession.NURSE


def test_three_places_to_choose_from() -> None:
    assert [(code, str(name)) for code, name in choices()] == [
        ("EU", "European Union"),
        ("UK", "United Kingdom"),
        ("US", "United States"),
    ]


def test_figures_as_in_the_table() -> None:
    table = {row["code"]: row for row in rows("regulation_by_jurisdiction.csv")}
    for place in (EU, UK):
        row = table[place.code]
        assert place.hp_cap_percent == Decimal(row["max_h2o2_professional_cosmetic_pct"].split()[0])
        assert place.carbamide_pair_percent == Decimal(row["carbamide_equivalent_pct"])
        assert str(place.min_age) == row["min_age"].split()[0]
        assert place.age_basis == "law"
    assert table["US-FED"]["max_h2o2_professional_cosmetic_pct"].startswith("no cap found")
    assert (US.hp_cap_percent, US.min_age, US.age_basis) == (None, 18, "policy")


@pytest.mark.parametrize("place", [EU, UK, US], ids=lambda place: place.code)
def test_every_row_says_where_from_how_well_and_when(place: Jurisdiction) -> None:
    assert len(place.source) > 30
    assert place.quality in {Quality.SEEN, Quality.REPORTED}
    assert place.checked_on == date(2026, 11, 25)
    assert place.exam_each_course
    assert place.cooling_off_days == 0


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
        "10 % hydrogen peroxide is more than the 6 % (present or released, as used) allowed in European Union: "
        "Directive 2011/84/EU; now Regulation (EC) 1223/2009, Annex III entry 12. Choose a weaker gel."
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
    for place in (EU, UK, US):
        assert [one for one in Profession if may_examine(jurisdiction=place, profession=one)] == [DENTIST]
        assert [one for one in Profession if may_prescribe(jurisdiction=place, profession=one)] == [DENTIST]


def test_after_a_year_somebody_looks_again() -> None:
    assert not facts_are_old(jurisdiction=UK, today=date(2027, 11, 25))
    assert facts_are_old(jurisdiction=UK, today=date(2027, 11, 26))


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("source", " "),
        ("checked_on", "last year"),
        ("quality", "sure"),
        ("may_examine", "barber"),
        ("hp_cap_percent", "six"),
        ("cooling_off_days", "a week"),
        ("min_age", "16"),
    ],
)
def test_a_faulty_row_is_refused(column: str, value: str) -> None:
    good = next(csv.DictReader(FILE.read_text(encoding="utf-8").splitlines()))
    assert set(read_jurisdictions([good])) == {"EU"}
    with pytest.raises(JurisdictionRefused, match="EU"):
        read_jurisdictions([good | {column: value}])
