"""Colour differences against Sharma, Wu & Dalal 2005 and against pairs in the gamut of teeth."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from whitening.shade.colour import Lab
from whitening.shade.difference import cie76, ciede2000, wi_d

# Yellowish, as teeth are: for exactly opposite hues the formula itself jumps (Sharma 2005, section on discontinuities).
LABS = st.builds(Lab, st.floats(0, 100), st.floats(-20, 60), st.floats(1, 60))
SHARMA = rows("ciede2000_sharma2005_34.csv")
PAIRS = rows("tooth_pairs_expected.csv")


def pair(row: dict[str, str]) -> tuple[Lab, Lab]:
    one, other = ([float(row[f"{axis}{end}"]) for axis in ("L", "a", "b")] for end in "12")
    return Lab(*one), Lab(*other)


@pytest.mark.parametrize("row", SHARMA, ids=[row["pair"] for row in SHARMA])
def test_the_34_pairs_of_sharma_wu_and_dalal(row: dict[str, str]) -> None:
    """Color Res. Appl. 2005;30(1):21-30, Table 1, printed to four decimals."""
    one, other = pair(row)
    assert ciede2000(one=one, other=other) == pytest.approx(float(row["dE00"]), abs=1e-4)


def test_all_34_pairs_are_there() -> None:
    assert len(SHARMA) == 34


@pytest.mark.parametrize("row", PAIRS)
def test_tooth_pairs(row: dict[str, str]) -> None:
    """Invented pairs; expected values agree between three independent implementations to 1e-9."""
    one, other = pair(row)
    assert cie76(one=one, other=other) == pytest.approx(float(row["dEab"]), abs=1e-6)
    assert ciede2000(one=one, other=other) == pytest.approx(float(row["dE00"]), abs=1e-6)
    assert ciede2000(one=one, other=other, k_l=2) == pytest.approx(float(row["dE00_211"]), abs=1e-6)
    assert wi_d(one) == pytest.approx(float(row["WID1"]), abs=1e-4)
    assert wi_d(other) - wi_d(one) == pytest.approx(float(row["dWID"]), abs=1e-4)


@given(LABS, LABS)
def test_a_difference_has_no_direction(one: Lab, other: Lab) -> None:
    assert ciede2000(one=one, other=other) == pytest.approx(ciede2000(one=other, other=one), abs=1e-9)
    assert ciede2000(one=one, other=one) == 0


@given(LABS, LABS, st.floats(0, 1))
def test_the_whiteness_index_is_linear(one: Lab, other: Lab, share: float) -> None:
    """So a change can be counted in stretches: a to b plus b to c is a to c."""
    between = Lab(*(left + share * (right - left) for left, right in zip(one, other, strict=True)))
    assert wi_d(between) == pytest.approx(wi_d(one) + share * (wi_d(other) - wi_d(one)), abs=1e-9)


def test_whiteness_examples() -> None:
    """Coefficients of Pérez et al. 2016 as reported; (80, 1, 20) and the screen's white computed from them."""
    assert wi_d(Lab(80, 1, 20)) == pytest.approx(16.556)
    assert wi_d(Lab(100, 0, 0)) == pytest.approx(51.1)
