"""The examination as values: through JSON and back, and what it refuses."""

import json
from datetime import date

import pytest
from hypothesis import given

from tests.whitening.screening.someone import EXAMINED_AT, EXAMINED_ON
from tests.whitening.screening.test_properties import EXAMINATIONS
from whitening.screening.examination import (
    Examination,
    Item,
    Periodontitis,
    ToothFinding,
    Trouble,
    from_data,
    to_data,
)
from whitening.screening.grades import Profession
from whitening.screening.teeth import UnknownTooth


@given(EXAMINATIONS)
def test_there_and_back_through_json(examination: Examination | None) -> None:
    if examination is None:
        return
    stored = json.loads(json.dumps(to_data(examination)))
    restored = from_data(stored, examined_at=EXAMINED_AT, examined_on=EXAMINED_ON, profession=Profession.DENTIST)
    assert restored == examination


def test_teeth_with_a_trouble() -> None:
    examination = Examination(
        examined_at=EXAMINED_AT,
        examined_on=EXAMINED_ON,
        profession=Profession.DENTIST,
        looked_at=frozenset(Item),
        teeth=(
            ToothFinding("11", frozenset({Trouble.DECAY})),
            ToothFinding("12", frozenset({Trouble.SICK_PULP, Trouble.DECAY}), restored_on=date(2026, 1, 2)),
        ),
    )
    assert examination.with_trouble(Trouble.DECAY) == ("11", "12")
    assert examination.with_trouble(Trouble.SICK_PULP) == ("12",)
    assert examination.with_trouble(Trouble.PAINFUL_CRACK) == ()


def test_only_adult_teeth_have_a_row() -> None:
    with pytest.raises(ValueError, match="53 is a milk tooth"):
        ToothFinding("53")
    with pytest.raises(UnknownTooth):
        ToothFinding("19")


@pytest.mark.parametrize("kind", [Item, Trouble, Periodontitis])
def test_labels(kind: type[Item | Trouble | Periodontitis]) -> None:
    labels = [str(one.label) for one in kind]
    assert all(labels)
    assert len(set(labels)) == len(labels)
