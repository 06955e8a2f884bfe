"""Reading answers: what is kept, what is refused and in which words."""

from collections.abc import Mapping
from datetime import date

import pytest

from tests.whitening.screening.someone import ALL_WELL, IN_PRIVATE_WELL, TODAY
from whitening.screening.answers import (
    AnswerMissing,
    AnswerRefused,
    DateAhead,
    DateLongAgo,
    DateUnreadable,
    ListAndNone,
    ListEmpty,
    ListTooLong,
    NumberOutside,
    SeveralAndNone,
    from_data,
    read_answer,
    to_data,
    validate_answers,
)
from whitening.screening.facts import AnswerValue
from whitening.screening.questions import questionnaire

WELL = ALL_WELL | IN_PRIVATE_WELL


def read(name: str, *raw: str) -> AnswerValue:
    return read_answer(question=questionnaire().question(name), raw=raw, today=TODAY)


@pytest.mark.parametrize(
    ("name", "raw", "value"),
    [
        ("no_fizz", ["yes"], "yes"),
        ("cold_sore", [" unsure "], "unsure"),
        ("last_cleaning", ["never"], "never"),
        ("sensitivity", ["0"], 0),
        ("sensitivity", ["10"], 10),
        ("whitened_last_on", ["2025-12-31"], date(2025, 12, 31)),
        ("whitened_last_on", ["2026-03-03"], TODAY),
        ("eyes", ["none"], ()),
        ("eyes", ["glasses", "lens"], ("lens", "glasses")),
        ("eyes", ["unsure"], ("unsure",)),
        ("medicines", ["none"], ()),
        ("medicines", ["naproxen\n\n  St John's wort ", "إيبوبروفين"], ("naproxen", "St John's wort", "إيبوبروفين")),
        ("medicines", ["iron\0 tablets 💊"], ("iron tablets 💊",)),
    ],
)
def test_kept(name: str, raw: list[str], value: AnswerValue) -> None:
    assert read(name, *raw) == value


@pytest.mark.parametrize(
    ("name", "raw", "refusal"),
    [
        ("no_fizz", ["unsure"], AnswerRefused),
        ("no_fizz", ["yes", "no"], AnswerRefused),
        ("last_cleaning", ["yesterday"], AnswerRefused),
        ("no_fizz", [], AnswerMissing),
        ("no_fizz", [" "], AnswerMissing),
        ("medicines", ["", "\n"], ListEmpty),
        ("sensitivity", ["11"], NumberOutside),
        ("sensitivity", ["-1"], NumberOutside),
        ("sensitivity", ["4.5"], NumberOutside),
        ("sensitivity", ["٤"], NumberOutside),
        ("sensitivity", ["9" * 5000], NumberOutside),
        ("whitened_last_on", ["2026-02-30"], DateUnreadable),
        ("whitened_last_on", ["last summer"], DateUnreadable),
        ("whitened_last_on", ["2026-03-04"], DateAhead),
        ("whitened_last_on", ["1025-03-04"], DateLongAgo),
        ("eyes", [], AnswerMissing),
        ("eyes", ["nose"], AnswerRefused),
        ("eyes", ["none", "lens"], SeveralAndNone),
        ("medicines", ["none", "naproxen"], ListAndNone),
        ("medicines", ["x" * 121], ListTooLong),
        ("medicines", ["\n".join(f"tablet {number}" for number in range(61))], ListTooLong),
    ],
)
def test_refused(name: str, raw: list[str], refusal: type[AnswerRefused]) -> None:
    with pytest.raises(AnswerRefused) as refused:
        read(name, *raw)
    assert type(refused.value) is refusal
    assert len(str(refused.value)) > 30


def as_typed(values: Mapping[str, AnswerValue]) -> dict[str, list[str]]:
    return {name: ["none"] if value == () else [str(value)] for name, value in values.items()}


def test_a_whole_form() -> None:
    checked = validate_answers(raw=as_typed(WELL), today=TODAY)
    assert checked.values == WELL
    assert checked.complete


def test_errors_stand_by_their_question_and_the_rest_is_kept() -> None:
    raw = as_typed(WELL) | {"sensitivity": ["eleven"], "whitened_before": ["yes"], "cold_sore": []}
    checked = validate_answers(raw=raw, today=TODAY)
    assert dict(checked.errors) == {"sensitivity": "Give a whole number from 0 to 10."}
    assert [question.id for question in checked.missing] == [
        "cold_sore",
        "whitened_last_on",
        "whitening_hurt",
        "whitening_often",
    ]
    assert checked.values["toothache"] == "no"
    assert not checked.complete


def test_answers_to_questions_that_do_not_apply_are_dropped() -> None:
    raw = as_typed(WELL) | {"pregnant": ["yes"], "made_up": ["yes"]}
    assert validate_answers(raw=raw, today=TODAY).values == WELL


def test_there_and_back_through_json() -> None:
    values: dict[str, AnswerValue] = {
        "medicines": ("naproxen",),
        "whitened_before": "yes",
        "whitened_last_on": date(2025, 12, 31),
        "sensitivity": 3,
    }
    stored = to_data(values)
    assert stored["medicines"] == ["naproxen"]
    assert stored["whitened_last_on"] == "2025-12-31"
    assert from_data(stored) == values
    # A question that a later version no longer asks.
    assert from_data({"old_question": "2025-12-31"}) == {"old_question": "2025-12-31"}
