"""sRGB to CIELAB, computed independently from IEC 61966-2-1 and CIE 15 (D65, 2-degree observer)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.data import rows
from whitening.shade.colour import Lab, Rgb
from whitening.shade.srgb import lab_to_srgb, srgb_to_lab, srgb_to_xyz

VECTORS = rows("srgb_xyz_lab_vectors.csv")


@pytest.mark.parametrize("row", VECTORS, ids=[f"{row['R8']}-{row['G8']}-{row['B8']}" for row in VECTORS])
def test_vectors(row: dict[str, str]) -> None:
    pixel = Rgb(int(row["R8"]), int(row["G8"]), int(row["B8"]))
    assert srgb_to_xyz(pixel) == pytest.approx([float(row[f"{axis}_D65"]) for axis in "XYZ"], abs=1e-6)
    lab = srgb_to_lab(pixel)
    assert lab == pytest.approx([float(row[f"{axis}_D65"]) for axis in "Lab"], abs=1e-4)
    # In the D50 space of image editors the same pixel has another a* and b*: it must not be mistaken for ours.
    if len({*pixel}) > 1:
        assert lab != pytest.approx([float(row[f"{axis}_D50"]) for axis in "Lab"], abs=0.04)


@given(st.builds(Rgb, *[st.integers(0, 255)] * 3))
def test_there_and_back(pixel: Rgb) -> None:
    assert lab_to_srgb(srgb_to_lab(pixel)) == pixel


def test_what_no_screen_shows_is_clipped() -> None:
    assert lab_to_srgb(Lab(110, 0, 0)) == Rgb(255, 255, 255)
    assert lab_to_srgb(Lab(110, 0, 0)).hex == "#FFFFFF"
    assert lab_to_srgb(Lab(-5, 0, 0)).hex == "#000000"
