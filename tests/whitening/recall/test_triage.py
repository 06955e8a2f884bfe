"""The triage of answers: row by row against the published table, and as a whole."""

import csv
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from whitening.recall import triage as module
from whitening.recall.advice import reasons
from whitening.recall.triage import Answers, Triage, TriageRefused, Urgency, kept, read, rules, triage

# Source: the follow-up table of the project's clinical reference; its columns name the studies behind each row.
TABLE = Path(__file__).parents[2] / "data" / "followup_triage.csv"
GRADES = {
    "routine": Urgency.ROUTINE,
    "clinician_72h": Urgency.WITHIN_DAYS,
    "clinician_same_day": Urgency.SAME_DAY,
    "urgent": Urgency.URGENT,
    "emergency": Urgency.EMERGENCY,
}
QUIET = Answers(
    sensitivity=0,
    falling=True,
    woke_at_night=False,
    one_tooth=False,
    gums="fine",
    swelling=False,
    eye=False,
    painkillers="none",
    satisfaction=5,
)
# Row of the table → (answers that meet its threshold, the day they are given on).
MEETS: dict[str, list[tuple[Answers, int]]] = {
    "F48-01": [(replace(QUIET, sensitivity=score), 2) for score in range(4)],
    "F48-02": [(replace(QUIET, sensitivity=score), 2) for score in (4, 5, 6)],
    "F48-03": [(replace(QUIET, sensitivity=score), 2) for score in (7, 8, 9, 10)],
    "F48-04": [
        (replace(QUIET, sensitivity=1, falling=False), 2),
        (replace(QUIET, woke_at_night=True), 2),
        (replace(QUIET, sensitivity=1, one_tooth=True), 2),
        (Answers(falling=False), 2),
    ],
    "F48-05": [(replace(QUIET, gums="white_fading"), 2)],
    "F48-06": [(replace(QUIET, gums="raw"), 2)],
    "F48-07": [(replace(QUIET, swelling=True), 2)],
    "F48-08": [(replace(QUIET, eye=True), 2)],
    "F48-09": [(replace(QUIET, satisfaction=score), 2) for score in (1, 2)],
    "F48-10": [(replace(QUIET, painkillers="more_or_still"), 2)],
    "F96-01": [(replace(QUIET, sensitivity=score), 4) for score in (4, 10)],
    "F7-01": [(replace(QUIET, sensitivity=1), 7), (replace(QUIET, sensitivity=10), 30)],
}
# Rows that are no answer: silence is the clock's matter (timing.py), the others belong to the review and to recall.
NO_ANSWERS = {"F48-11", "F30-01", "F180-01", "F365-01"}


def published() -> dict[str, dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {row["code"]: row for row in csv.DictReader(file)}


def test_every_row_is_answered_for() -> None:
    assert set(published()) == set(MEETS) | NO_ANSWERS
    assert {rule.code for rule in rules()} == set(MEETS) | {"ASK-01"}


@pytest.mark.parametrize("code", MEETS)
def test_a_row_fires_where_the_table_says(code: str) -> None:
    for answers, day in MEETS[code]:
        fired = triage(answers, day=day)
        assert code in fired.codes
        assert fired.urgency >= GRADES[published()[code]["grade"]]


@pytest.mark.parametrize("code", MEETS)
def test_a_row_has_the_grade_of_the_table(code: str) -> None:
    rule = next(rule for rule in rules() if rule.code == code)
    assert rule.urgency is GRADES[published()[code]["grade"]]
    assert rule.asks_again == ("re-ask" in published()[code]["action"] or code == "F48-03")


@pytest.mark.parametrize(
    ("answers", "day", "code"),
    [
        (replace(QUIET, sensitivity=4), 2, "F48-01"),
        (replace(QUIET, sensitivity=3), 2, "F48-02"),
        (replace(QUIET, sensitivity=7), 2, "F48-02"),
        (replace(QUIET, sensitivity=6), 2, "F48-03"),
        (replace(QUIET, sensitivity=0, falling=False), 2, "F48-04"),
        (replace(QUIET, sensitivity=0, one_tooth=True), 2, "F48-04"),
        (replace(QUIET, sensitivity=5), 3, "F96-01"),
        (replace(QUIET, sensitivity=3), 4, "F96-01"),
        (replace(QUIET, sensitivity=1), 6, "F7-01"),
        (replace(QUIET, sensitivity=0), 7, "F7-01"),
        (replace(QUIET, satisfaction=3), 2, "F48-09"),
        (replace(QUIET, painkillers="by_the_label"), 2, "F48-10"),
    ],
)
def test_a_row_keeps_still_just_outside(answers: Answers, day: int, code: str) -> None:
    assert code not in triage(answers, day=day).codes


def test_nothing_said_fires_nothing() -> None:
    assert triage(Answers(), day=2) == Triage(())
    assert not triage(Answers(), day=30).worries


def test_a_call_that_is_asked_for_is_made() -> None:
    fired = triage(replace(QUIET, call_me=True), day=2)
    assert (fired.codes, fired.urgency) == (["F48-01", "ASK-01"], Urgency.WITHIN_DAYS)


def test_the_worst_decides_and_is_read_first() -> None:
    fired = triage(replace(QUIET, sensitivity=8, swelling=True, satisfaction=1), day=2)
    assert fired.urgency is Urgency.EMERGENCY
    sentences = [str(sentence) for sentence in reasons(fired, sensitivity=8)]
    assert sentences[0].startswith("A rash, swelling of face, lips, tongue or throat")
    # That somebody is not happy yet can wait.
    assert [one[:14] for one in sentences[1:]] == ["Pain of seven "]


def test_no_soothing_words_stand_beside_a_worry() -> None:
    fired = triage(replace(QUIET, gums="raw"), day=2)
    assert "F48-01" in fired.codes
    assert [str(one)[:9] for one in reasons(fired, sensitivity=2)] == ["Sore, raw"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, ["Good to hear that all is well."]),
        ({"sensitivity": 1}, ["A little sensitivity is usual"]),
        ({"sensitivity": 3}, ["A little sensitivity is usual"]),
        ({"gums": "white_fading"}, ["A white patch on the gum"]),
        ({"sensitivity": 2, "gums": "white_fading"}, ["A little sensitivity is usual", "A white patch on the gum"]),
        ({"swelling": True}, ["A rash, swelling of face"]),
        ({"call_me": True}, []),
    ],
)
def test_the_words_fit_the_answer(changes: dict[str, object], words: list[str]) -> None:
    answers = replace(QUIET, sensitivity=0)
    answers = replace(answers, **changes)  # type: ignore[arg-type]  # each case names what differs
    found = [str(one) for one in reasons(triage(answers, day=2), sensitivity=answers.sensitivity)]
    assert [one[: len(start)] for one, start in zip(found, words, strict=True)] == words


def test_every_rule_names_its_source_and_how_good_it_is() -> None:
    assert all(rule.source for rule in rules())
    assert {rule.quality for rule in rules()} <= {"seen", "reported", "memory", "common_practice"}


def test_what_was_graded_is_never_graded_again() -> None:
    assert kept(["F48-02", "gone"]).codes == ["F48-02"]
    assert kept(["F48-02"]).asks_again


ROW = {
    "code": "X",
    "urgency": "URGENT",
    "patient_calls": "yes",
    "advice": "eye",
    "asks_again": "no",
    "source": "S1",
    "quality": "seen",
}


def test_a_rule_without_a_source_is_refused() -> None:
    with pytest.raises(TriageRefused, match="X: a source is missing"):
        module._rule(ROW | {"source": " "})


def test_a_rule_without_its_function_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "rules.csv"
    file.write_text(",".join(ROW) + "\n" + ",".join(ROW.values()) + "\n")
    with file.open(newline="") as lines, pytest.raises(TriageRefused, match="one to one"):
        read(csv.DictReader(lines))


# From well to bad; None (not answered) is left out, because it says nothing either way.
SCALES: dict[str, list[object]] = {
    "falling": [True, False],
    "woke_at_night": [False, True],
    "one_tooth": [False, True],
    "gums": ["fine", "white_fading", "raw"],
    "swelling": [False, True],
    "eye": [False, True],
    "painkillers": ["none", "by_the_label", "more_or_still"],
    "satisfaction": [5, 4, 3, 2, 1],
    "call_me": [False, True],
    "sensitivity": list(range(11)),
}


@st.composite
def worse_and_better(draw: st.DrawFn) -> tuple[Answers, Answers]:
    fields = {name: draw(st.integers(0, len(scale) - 1)) for name, scale in SCALES.items()}
    name = draw(st.sampled_from(list(SCALES)))
    worse = draw(st.integers(fields[name], len(SCALES[name]) - 1))
    better = {each: SCALES[each][place] for each, place in fields.items()}
    return Answers(**better), Answers(**(better | {name: SCALES[name][worse]}))  # type: ignore[arg-type]


@given(worse_and_better(), st.integers(0, 60), st.integers(0, 30))
def test_a_worse_answer_never_lowers_the_urgency(pair: tuple[Answers, Answers], day: int, days: int) -> None:
    better, worse = pair
    assert triage(worse, day=day).urgency >= triage(better, day=day).urgency
    # Nor does it count for less when it still holds later on.
    assert triage(worse, day=day + days).urgency >= triage(worse, day=day).urgency
