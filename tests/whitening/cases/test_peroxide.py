"""Peroxide arithmetic. Expected values computed from atomic weights and a mass balance, see the files' heads."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from whitening.cases.models import Plan, Product
from whitening.cases.peroxide import (
    CARBAMIDE_PEROXIDE,
    HP_PER_CARBAMIDE,
    HYDROGEN_PEROXIDE,
    UREA,
    Mix,
    StrengthUnknown,
    carbamide_from_hp,
    hp_from_carbamide,
    mix_by_mass,
    mix_by_volume,
    strength_as_used,
)

PERCENT = st.decimals(0, 100, places=3)
PARTS = st.decimals(Decimal("0.01"), 100, places=2)
HALF_A_THOUSANDTH = Decimal("0.00051")


def test_molar_masses() -> None:
    """H 1.008, C 12.011, N 14.007, O 15.999 g/mol (standard atomic weights)."""
    assert [str(mass) for mass in (HYDROGEN_PEROXIDE, UREA, CARBAMIDE_PEROXIDE)] == ["34.014", "60.056", "94.070"]
    assert round(HP_PER_CARBAMIDE, 6) == Decimal("0.361582")


@pytest.mark.parametrize("row", rows("peroxide_equivalence.csv"), ids=lambda row: row["cp_percent"])
def test_equivalence(row: dict[str, str]) -> None:
    carbamide, hydrogen = Decimal(row["cp_percent"]), Decimal(row["hp_percent"])
    assert abs(hp_from_carbamide(carbamide) - hydrogen) < HALF_A_THOUSANDTH
    assert abs(carbamide - hp_from_carbamide(carbamide) - Decimal(row["urea_percent"])) < HALF_A_THOUSANDTH
    assert abs(hp_from_carbamide(carbamide_from_hp(hydrogen)) - hydrogen) < HALF_A_THOUSANDTH


@pytest.mark.parametrize(("carbamide", "hydrogen"), [("10", "3.6"), ("0.3", "0.1")])
def test_pairs_named_by_the_eu_committee(carbamide: str, hydrogen: str) -> None:
    """SCCNFP clarification: 10 % carbamide peroxide goes with 3.6 % hydrogen peroxide, 0.3 % with 0.1 %."""
    assert round(hp_from_carbamide(Decimal(carbamide)), 1) == Decimal(hydrogen)


def _mixed(row: dict[str, str]) -> Decimal:
    percent, parts, other = (Decimal(row[name]) for name in ("peroxide_w_percent", "peroxide_parts", "second_parts"))
    if row["parts_basis"] == "mass":
        return mix_by_mass(percent=percent, parts=parts, other_parts=other)
    # Density of the peroxide: 1 + 0.0037 g/mL for each per cent, an approximation from memory.
    density = 1 + Decimal("0.0037") * percent
    return mix_by_volume(
        percent=percent,
        parts=parts,
        density_g_ml=density,
        other_parts=other,
        other_density_g_ml=Decimal(row["second_density_g_ml"]),
    )


@pytest.mark.parametrize("row", rows("peroxide_dilution.csv"))
def test_dilution(row: dict[str, str]) -> None:
    assert abs(_mixed(row) - Decimal(row["result_w_percent"])) < HALF_A_THOUSANDTH


@given(PERCENT)
def test_there_and_back(percent: Decimal) -> None:
    assert abs(carbamide_from_hp(hp_from_carbamide(percent)) - percent) < Decimal("1e-20")


@given(PERCENT, PARTS, PERCENT, PARTS)
def test_a_mixture_lies_between_its_components(one: Decimal, parts: Decimal, other: Decimal, rest: Decimal) -> None:
    mixed = mix_by_mass(percent=one, parts=parts, other_parts=rest, other_percent=other)
    assert min(one, other) - Decimal("1e-20") <= mixed <= max(one, other) + Decimal("1e-20")
    swapped = mix_by_mass(percent=other, parts=rest, other_parts=parts, other_percent=one)
    assert abs(mixed - swapped) < Decimal("1e-20")


@given(PERCENT, PARTS, PARTS)
def test_equal_densities_make_volumes_into_masses(percent: Decimal, parts: Decimal, rest: Decimal) -> None:
    by_volume = mix_by_volume(
        percent=percent,
        parts=parts,
        density_g_ml=Decimal("1.1"),
        other_parts=rest,
        other_density_g_ml=Decimal("1.1"),
    )
    assert abs(by_volume - mix_by_mass(percent=percent, parts=parts, other_parts=rest)) < Decimal("1e-20")


def test_working_of_a_carbamide_label() -> None:
    strength = strength_as_used(peroxide="carbamide", label_percent=Decimal(16), basis="as_used")
    assert round(strength.hp_percent, 3) == Decimal("5.785")
    assert [str(line) for line in strength.working] == [
        "16 % carbamide peroxide × 34.014 ÷ 94.070 (molar masses) = 5.79 % hydrogen peroxide",
        "The label states the strength as used.",
    ]


def test_working_of_a_mix_by_mass() -> None:
    mix = Mix(parts=Decimal(3), other_parts=Decimal(1))
    strength = strength_as_used(peroxide="hydrogen", label_percent=Decimal(50), basis="before_mixing", mix=mix)
    assert strength.hp_percent == Decimal("37.5")
    assert [str(line) for line in strength.working] == ["50 % × 3 ÷ (3 + 1) parts by mass = 37.5 % as used"]


def test_working_of_a_mix_by_volume() -> None:
    mix = Mix(
        parts=Decimal(3), other_parts=Decimal(1), density_g_ml=Decimal("1.1295"), other_density_g_ml=Decimal("1.0")
    )
    strength = strength_as_used(peroxide="hydrogen", label_percent=Decimal(35), basis="before_mixing", mix=mix)
    assert round(strength.hp_percent, 3) == Decimal("27.025")
    assert [str(line) for line in strength.working] == [
        "35 % × 3 × 1.1295 ÷ (3 × 1.1295 + 1 × 1.0), parts by volume × g/mL = 27.02 % as used"
    ]


def test_ten_is_never_written_as_a_power() -> None:
    mix = Mix(parts=Decimal("9.9999"), other_parts=Decimal(0))
    strength = strength_as_used(peroxide="hydrogen", label_percent=Decimal("9.9999"), basis="before_mixing", mix=mix)
    assert str(strength.working[-1]).startswith("10 % ×")


VOLUME_WITHOUT_A_DENSITY = Mix(parts=Decimal(3), other_parts=Decimal(1), density_g_ml=Decimal("1.13"))


@pytest.mark.parametrize(
    ("peroxide", "percent", "basis", "mix"),
    [
        ("hydrogen", "35", "before_mixing", None),
        ("hydrogen", "35", "", None),
        ("chlorine", "35", "as_used", None),
        ("hydrogen", "101", "as_used", None),
        ("carbamide", "-1", "as_used", None),
        ("hydrogen", "35", "before_mixing", VOLUME_WITHOUT_A_DENSITY),
        ("hydrogen", "35", "before_mixing", Mix(parts=Decimal(0), other_parts=Decimal(1))),
        ("hydrogen", "35", "before_mixing", Mix(Decimal(3), Decimal(1), Decimal(0), Decimal(1))),
    ],
)
def test_a_strength_is_never_assumed(peroxide: str, percent: str, basis: str, mix: Mix | None) -> None:
    with pytest.raises(StrengthUnknown):
        strength_as_used(peroxide=peroxide, label_percent=Decimal(percent), basis=basis, mix=mix)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Gel of the house", "Gel of the house, 6 % hydrogen peroxide as used (w/w)"),
        ("Gel A, 6 % hydrogen peroxide as used", "Gel A, 6 % hydrogen peroxide as used (w/w)"),
        # Another strength, or one before mixing, is not the one that is used.
        (
            "Gel A, 16 % hydrogen peroxide as used",
            "Gel A, 16 % hydrogen peroxide as used, 6 % hydrogen peroxide as used (w/w)",
        ),
        ("Gel A, 6 %", "Gel A, 6 %, 6 % hydrogen peroxide as used (w/w)"),
    ],
)
def test_a_plan_says_the_strength_of_its_gel_once(name: str, words: str) -> None:
    plan = Plan(product=Product(name=name), strength_hp_percent=Decimal("6.00"))
    assert plan.gel == words
