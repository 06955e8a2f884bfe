"""What a practice writes over a shipped row: stricter in strength and age, free in the rest, and read by one reader."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.whitening.screening.someone import codes, outcome
from whitening.screening import jurisdictions as shipping
from whitening.screening import own_rules
from whitening.screening.facts import PatientFacts
from whitening.screening.grades import Quality
from whitening.screening.jurisdictions import Jurisdiction, JurisdictionRefused, OwnRow, jurisdictions, shipped_rows
from whitening.screening.own_rules import changed, columns_in_force, in_force, is_behind, looser_than_law
from whitening.screening.verdicts import strength_allowed

CODES = sorted(jurisdictions())


def own(version: int = 1, *, made_over: str = "1", **values: str) -> OwnRow:
    return OwnRow(
        version=version,
        values=values,
        made_over=made_over,
        reason="Agreed among the dentists",
        source="Letter of the dental council",
        quality=Quality.SEEN,
        checked_on=date(2026, 12, 1),
    )


def ruled(code: str, row: OwnRow | None, version: str | None = None) -> Jurisdiction:
    found = in_force(code, row, version=version)
    assert found is not None
    return found


def faults(code: str, **values: str) -> dict[str, str]:
    found = looser_than_law(shipped=jurisdictions()[code], values=values)
    return {fault.column: str(fault.sentence) for fault in found}


def test_what_was_not_changed_stays_the_programs() -> None:
    place, shipped = ruled("UK", own(cooling_off_days="3")), jurisdictions()["UK"]
    assert (place.cooling_off_days, place.hp_cap_percent, place.version) == (3, shipped.hp_cap_percent, "1.1")
    assert place.checked_on == date(2026, 12, 1)
    assert place.source_of("cooling_off_days") == "Letter of the dental council"
    assert place.source_of("hp_cap_percent") == shipped.source
    assert ruled("UK", None) is shipped
    assert in_force("XX", None) is None
    assert in_force("UK", None, version="2") is None


def test_the_sentence_names_the_practices_own_rule() -> None:
    place = ruled("UK", own(3, hp_cap_percent="5.5"))
    assert str(strength_allowed(jurisdiction=place, hp_percent=Decimal(6)).sentence) == (
        "6 % hydrogen peroxide is more than the 5.5 % (present or released, as used) that this practice allows "
        "(United Kingdom): own rule, version 1.3, Letter of the dental council. Choose a weaker gel."
    )
    assert strength_allowed(jurisdiction=place, hp_percent=Decimal("5.5")).allowed
    # A limit where the program found none.
    assert not strength_allowed(jurisdiction=ruled("US", own(hp_cap_percent="25")), hp_percent=Decimal(35)).allowed


@pytest.mark.parametrize(
    ("code", "values", "refused"),
    [
        ("UK", {"hp_cap_percent": "6.01"}, ["hp_cap_percent"]),
        ("UK", {"hp_cap_percent": ""}, ["hp_cap_percent"]),
        ("UK", {"hp_cap_percent": "6.00"}, []),
        ("UK", {"hp_cap_percent": "0.1"}, []),
        ("US", {"hp_cap_percent": "50"}, []),
        ("US", {"hp_cap_percent": ""}, []),
        ("EU", {"min_age": "21"}, []),
        ("EU", {"min_age": "21", "age_basis": "policy"}, []),
        ("EU", {"age_basis": "policy"}, ["age_basis"]),
        ("US-STATE", {"min_age": "19", "age_basis": "law"}, []),
        ("UK", {"cap_basis": "before mixing"}, ["cap_basis"]),
        ("US", {"cap_basis": "present or released", "hp_cap_percent": "25"}, []),
        ("UK", {"hp_cap_percent": "7", "age_basis": "policy"}, ["hp_cap_percent", "age_basis"]),
        ("UK", {"may_carry_out": "dentist hygienist", "on_prescription": ""}, []),
    ],
)
def test_only_stricter(code: str, values: dict[str, str], refused: list[str]) -> None:
    found = faults(code, **values)
    assert list(found) == refused
    assert all("new version of the program" in sentence for sentence in found.values())


@pytest.mark.parametrize("age", ["17", "16", "0", "-1", "18.5", ""])
@pytest.mark.parametrize("code", ["UK", "US", "JP"])
def test_never_under_18(code: str, age: str) -> None:
    with pytest.raises(JurisdictionRefused) as refused:
        looser_than_law(shipped=jurisdictions()[code], values={"min_age": age})
    assert refused.value.column == "min_age"


def test_a_higher_age() -> None:
    """By policy of the practice a not-yet between 18 and that age; where the practice found it in law, a must-not."""
    nineteen = PatientFacts(date(2007, 1, 1))
    by_policy = ruled("UK", own(min_age="21", age_basis="policy"))
    assert (by_policy.law_age, by_policy.min_age, by_policy.age_basis) == (18, 21, "policy")
    assert codes(outcome(patient=nineteen, jurisdiction=by_policy)) == ["AGE-02"]
    assert outcome(patient=nineteen, jurisdiction=by_policy).not_before == date(2028, 1, 1)
    assert codes(outcome(patient=PatientFacts(date(2009, 1, 1)), jurisdiction=by_policy)) == ["AGE-01"]
    by_law = ruled("US-STATE", own(min_age="21", age_basis="law"))
    assert codes(outcome(patient=nineteen, jurisdiction=by_law)) == ["AGE-01"]
    assert codes(outcome(patient=PatientFacts(date(2005, 1, 1)), jurisdiction=by_law)) == []


@pytest.fixture
def newer(monkeypatch: pytest.MonkeyPatch) -> None:
    """A later program: the United Kingdom's second version names 5 % and 20 years."""
    old = shipped_rows()["UK"][0]
    rows = (old, dict(old) | {"version": "2", "hp_cap_percent": "5", "min_age": "20"})
    monkeypatch.setattr(own_rules, "shipped_rows", lambda: {"UK": rows})
    monkeypatch.setattr(own_rules, "jurisdictions", lambda: {"UK": shipping.read_row(rows[-1])})


@pytest.mark.usefixtures("newer")
def test_a_newer_row_of_the_program_is_never_loosened_by_an_older_change() -> None:
    held = own(hp_cap_percent="5.5", cooling_off_days="2")
    place = ruled("UK", held)
    assert (place.version, place.hp_cap_percent, place.min_age, place.cooling_off_days) == ("2.1", Decimal(5), 20, 2)
    # The figure is the program's now, and so is its source.
    assert place.source_of("hp_cap_percent") == jurisdictions()["UK"].source
    assert is_behind(place)
    assert not is_behind(ruled("UK", own(made_over="2")))
    assert not is_behind(ruled("UK", None))
    assert columns_in_force("UK", held)["hp_cap_percent"] == "5"


@pytest.mark.usefixtures("newer")
def test_an_old_plan_is_explained_by_the_rows_it_was_judged_by() -> None:
    held = own(hp_cap_percent="5.5")
    assert ruled("UK", None, version="1").hp_cap_percent == Decimal(6)
    assert ruled("UK", held, version="1").hp_cap_percent == Decimal("5.5")
    assert ruled("UK", held, version="1").version == "1.1"
    assert ruled("UK", None).version == "2"


def test_only_what_differs_is_the_practices_own() -> None:
    row = shipped_rows()["UK"][-1]
    same = columns_in_force("UK", None)
    assert changed(shipped=row, typed=same) == {}
    assert changed(shipped=row, typed=same | {"hp_cap_percent": "6.00", "may_examine": " dentist "}) == {}
    assert changed(shipped=row, typed=same | {"note": "ours"}) == {"note": "ours"}
    # One group of people is kept as a whole: half of it would contradict the other half later.
    freed = {"may_carry_out": "dentist hygienist", "on_prescription": "therapist clinical_technician"}
    assert set(changed(shipped=row, typed=same | freed)) == {"may_carry_out", "on_prescription", "under_supervision"}


TYPED = st.fixed_dictionaries(
    {},
    optional={
        "hp_cap_percent": st.sampled_from(["", "0.1", "5", "6", "6.01", "12", "50", "NaN", "x"]),
        "min_age": st.sampled_from(["0", "17", "18", "21", "99", "100", ""]),
        "age_basis": st.sampled_from(["law", "policy", ""]),
    },
)


@given(st.sampled_from(CODES), TYPED)
def test_whatever_is_written_over_a_row_nothing_of_the_law_becomes_looser(code: str, values: dict[str, Any]) -> None:
    """Also past the form: a row that came into the database by another way."""
    shipped = jurisdictions()[code]
    try:
        place = ruled(code, own(**values))
    except JurisdictionRefused:
        return
    assert place.min_age >= shipped.min_age >= 18
    assert (place.law_age or 0) >= (shipped.law_age or 0)
    if shipped.hp_cap_percent is not None:
        assert place.hp_cap_percent is not None
        assert place.hp_cap_percent <= shipped.hp_cap_percent
    if not looser_than_law(shipped=shipped, values=values) and "hp_cap_percent" in values:
        assert place.hp_cap_percent == (Decimal(values["hp_cap_percent"]) if values["hp_cap_percent"] else None)
