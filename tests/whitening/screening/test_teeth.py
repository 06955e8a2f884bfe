"""Teeth against ISO 3950: two figures, quadrant then place from the midline; 5 to 8 are the milk quadrants."""

import pytest

from whitening.screening.teeth import (
    ANTERIOR,
    WHITENING_RANGE,
    Arch,
    UnknownTooth,
    arch_order,
    planned_teeth,
    teeth,
    tooth,
)


def test_52_teeth() -> None:
    adult = {f"{quadrant}{place}" for quadrant in range(1, 5) for place in range(1, 9)}
    milk = {f"{quadrant}{place}" for quadrant in range(5, 9) for place in range(1, 6)}
    assert set(teeth()) == adult | milk
    assert {number for number, found in teeth().items() if found.milk} == milk


@pytest.mark.parametrize(
    ("number", "name", "words"),
    [
        ("11", "upper right central incisor", "upper right front tooth"),
        ("22", "upper left lateral incisor", "upper left second front tooth"),
        ("33", "lower left canine", "lower left corner tooth"),
        ("44", "lower right first premolar", "lower right first small back tooth"),
        ("16", "upper right first molar", "upper right first big back tooth"),
        ("48", "lower right third molar", "lower right wisdom tooth"),
        ("51", "upper right milk central incisor", "upper right front milk tooth"),
        ("65", "upper left milk second molar", "upper left second back milk tooth"),
        ("73", "lower left milk canine", "lower left corner milk tooth"),
        ("84", "lower right milk first molar", "lower right first back milk tooth"),
    ],
)
def test_numbers_and_names(number: str, name: str, words: str) -> None:
    assert (str(tooth(number).name), str(tooth(number).patient_name)) == (name, words)
    assert str(tooth(number).label) == f"{number}, {name}"


def test_every_name_says_its_quadrant() -> None:
    places = {1: "upper right", 2: "upper left", 3: "lower left", 4: "lower right"}
    for found in teeth().values():
        place = places[found.quadrant - 4 if found.milk else found.quadrant]
        assert str(found.name).startswith(place)
        assert str(found.patient_name).startswith(place)
        assert ("milk" in str(found.name)) is found.milk
        assert place.startswith(found.arch)
    assert len({str(found.name) for found in teeth().values()}) == 52
    assert len({str(found.patient_name) for found in teeth().values()}) == 52


def test_order_on_the_arch_is_as_one_sees_it() -> None:
    assert " ".join(arch_order(Arch.UPPER)) == "18 17 16 15 14 13 12 11 21 22 23 24 25 26 27 28"
    assert " ".join(arch_order(Arch.LOWER)) == "48 47 46 45 44 43 42 41 31 32 33 34 35 36 37 38"


def test_ranges() -> None:
    """The whitening range is common practice, no source."""
    assert " ".join(sorted(ANTERIOR)) == "11 12 13 21 22 23 31 32 33 41 42 43"
    assert len(WHITENING_RANGE) == 20
    assert ANTERIOR < WHITENING_RANGE
    assert {"15", "25", "35", "45"} <= WHITENING_RANGE
    assert not {"16", "26", "36", "46"} & WHITENING_RANGE


def test_planned_teeth() -> None:
    assert " ".join(planned_teeth(upper=True, lower=False, left_out={"11", "41"})) == "15 14 13 12 21 22 23 24 25"
    assert " ".join(planned_teeth(upper=False, lower=True, left_out=())) == "45 44 43 42 41 31 32 33 34 35"
    assert len(planned_teeth(upper=True, lower=True, left_out=())) == 20
    assert planned_teeth(upper=False, lower=False, left_out=()) == ()


@pytest.mark.parametrize("number", ["19", "01", "56", "91", "1", "", "11 "])
def test_no_such_tooth(number: str) -> None:
    with pytest.raises(UnknownTooth):
        tooth(number)


def test_arch_labels() -> None:
    assert [str(arch.label) for arch in Arch] == ["upper arch", "lower arch"]
