"""Medicines by ingredient: a hint for the person who reads the list, and never an all-clear."""

import re
import tomllib

import pytest

from tests.whitening.screening.someone import codes, exam, finding, open_codes, outcome, plan, said
from whitening.screening.examination import Item
from whitening.screening.ingredients import (
    FILE,
    Effect,
    IngredientsRefused,
    hints,
    ingredients,
    names,
    read_ingredients,
    recognised,
)
from whitening.screening.outcome import Standing, State

UNREAD = exam(looked_at=frozenset(Item) - {Item.MEDICINES})
BEST_EVIDENCED = """
    amiodarone chlorpromazine doxycycline hydrochlorothiazide nalidixic acid naproxen piroxicam tetracycline
    thioridazine vemurafenib voriconazole
"""


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("doxycycline", ["doxycycline"]),
        ("DOXYCYCLINE 100 mg, mornings", ["doxycycline"]),
        ("doxycyclin", ["doxycycline"]),
        ("hydrochlorthiazide", ["hydrochlorothiazide"]),
        ("nalidixic  acid", ["nalidixic acid"]),
        ("St. John’s wort tea", ["St John's wort"]),
        ("saint johns wort", ["Saint John's wort"]),
        ("naproxén + omeprazole", ["naproxen", "omeprazole"]),
        ("sulfamethoxazole/trimethoprim", ["sulfamethoxazole"]),
        # Part of a longer word is another word, and a short name is not guessed at.
        ("ironing", []),
        ("zinq", []),
        ("something for the heart", []),
        ("إيبوبروفين", []),
        ("💊", []),
        ("", []),
    ],
)
def test_recognised(line: str, found: list[str]) -> None:
    assert [one.name for one in recognised(line)] == found


def test_two_ingredients_that_sound_alike_are_not_taken_for_each_other() -> None:
    for one in ingredients().values():
        assert {found.effect for found in recognised(one.name)} == {one.effect}, one.name


def test_those_of_best_evidence_are_there() -> None:
    wanted = set(re.split(r"\s{2,}|\s(?!acid)", BEST_EVIDENCED.strip()))
    assert len(wanted) == 11
    assert {one.name for one in ingredients().values() if "Drug Saf 2019" in one.source} == wanted


@pytest.mark.parametrize(
    ("line", "code"), [("amiodarone", "LGT-04"), ("isotretinoin 20 mg", "LGT-05"), ("St John's wort", "LGT-06")]
)
def test_what_is_recognised_brings_the_rule_up(line: str, code: str) -> None:
    """Though the question about it was answered with “none of these”; leaving the light out ends its hold."""
    listed = said(medicines=(line,))
    result = outcome(answers=listed)
    assert codes(result) == sorted([code, "MED-01"])
    assert finding(result, code).in_force
    assert line not in finding(result, code).basis
    dark = outcome(answers=listed, plan=plan(uses_light=False))
    assert finding(dark, code).state is State.KEPT_OUT_BY_PLAN


@pytest.mark.parametrize("line", ["paracetamol", "something unheard of", "naproxen"])
def test_a_person_reads_every_list_all_the_same(line: str) -> None:
    result = outcome(answers=said(medicines=(line,)), examination=UNREAD)
    assert finding(result, "MED-01").in_force
    assert result.standing is Standing.NOT_YET


def test_nothing_recognised_answers_no_question() -> None:
    result = outcome(answers=said(medicines=("paracetamol",), light_medicines=None))
    assert open_codes(result) == ["LGT-04", "LGT-05", "LGT-06"]


def test_hints_name_the_line_and_what_was_found_in_it() -> None:
    first, second = hints(("Naproxen 500", "green drops"))
    assert (first.line, [one.effect for one in first.found]) == ("Naproxen 500", [Effect.LIGHT])
    assert (second.line, second.found) == ("green drops", ())


def test_names_to_pick_from() -> None:
    assert names() == tuple(sorted(names(), key=str.casefold))
    assert {"paracetamol", "St John's wort"} <= set(names())


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ({"text": "a", "quality": "seen", "names": ["x"]}, "g: source is missing"),
        ({"text": "a", "quality": "seen", "source": "s", "names": ["x", "X"]}, "X: stands in two groups"),
    ],
)
def test_a_file_that_cannot_be_read(row: dict[str, object], sentence: str) -> None:
    with pytest.raises(IngredientsRefused, match=sentence):
        read_ingredients({"version": "1", "g": row})


def test_nothing_but_ingredients_and_classes() -> None:
    """Small letters throughout: a name with a capital would be a brand, or somebody's."""
    written = [
        name
        for group in tomllib.loads(FILE.read_text(encoding="utf-8")).values()
        if isinstance(group, dict)
        for name in group["names"]
    ]
    allowed = {"St John's wort", "Saint John's wort", "vitamin B12", "vitamin D"}
    assert [name for name in written if name != name.casefold() and name not in allowed] == []
