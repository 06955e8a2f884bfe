"""Dates: which finding ends with one, which only waits for one, and what is newer than what."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from tests.whitening.screening.someone import (
    ANSWERED_AT,
    ANSWERED_ON,
    EXAMINED_AT,
    EXAMINED_ON,
    LOOKED_AT_ALL,
    WELL,
    codes,
    finding,
    outcome,
    said,
)
from whitening.screening.examination import Gums, Item, SoftTissue, ToothFinding
from whitening.screening.facts import Answer
from whitening.screening.outcome import State

FAR, FAR_BACK = date(2036, 1, 1), date(2024, 1, 1)
OPERATED = said(mouth_lately=("extraction",), mouth_operated_on=date(2026, 3, 1))


@pytest.mark.parametrize(
    ("code", "facts", "last_day"),
    [
        # 14 days since it was placed: convention, from memory.
        (
            "RES-04",
            {"examination": replace(LOOKED_AT_ALL, teeth=(ToothFinding("11", restored_on=date(2026, 2, 20)),))},
            date(2026, 3, 5),
        ),
        # 180 days and 14 days: from memory.
        (
            "PRV-01",
            {"answers": said(whitened_before="yes", whitened_last_on=date(2026, 1, 31))},
            date(2026, 7, 29),
        ),
        (
            "PRV-03",
            {"answers": said(whitening_now="stopped", whitening_stopped_on=date(2026, 2, 28))},
            date(2026, 3, 13),
        ),
        (
            "ORT-01",
            {"answers": said(worn_in_mouth=("braces_off",), braces_off_on=date(2026, 2, 20))},
            date(2026, 3, 21),
        ),
        # 3 months and 90 days: the longer of the two.
        (
            "EPI-01",
            {"answers": said(illnesses=("epilepsy",), last_fit_on=date(2026, 2, 27))},
            date(2026, 5, 27),
        ),
    ],
)
def test_an_event_that_is_a_date_ends_the_finding(code: str, facts: dict[str, Any], last_day: date) -> None:
    assert codes(outcome(**facts, today=last_day)) == [code]
    assert outcome(**facts, today=last_day).not_before == last_day + timedelta(days=1)
    assert codes(outcome(**facts, today=last_day + timedelta(days=1))) == []


@pytest.mark.parametrize(
    ("code", "facts", "not_before"),
    [
        ("SEN-02", {"answers": said(sensitivity=7)}, date(2026, 3, 15)),
        ("HSV-01", {"answers": said(cold_sore="yes"), "examination": None}, date(2026, 3, 11)),
        ("MUC-01", {"examination": replace(LOOKED_AT_ALL, soft_tissue=SoftTissue(sore=True))}, date(2026, 3, 16)),
        ("PER-01", {"examination": replace(LOOKED_AT_ALL, gums=Gums(inflamed=True))}, date(2026, 3, 16)),
        ("PRV-03", {"answers": said(whitening_now="now")}, date(2026, 3, 15)),
        ("TMJ-02", {"answers": said(jaw=("locked",))}, date(2026, 3, 29)),
        ("RSP-01", {"answers": said(lying_back=("nose",))}, date(2026, 3, 8)),
        ("EXP-01", {"answers": said(hoped_for="more")}, date(2026, 3, 8)),
        ("EXP-02", {"answers": said(look_in_the_way="unsure")}, date(2026, 3, 8)),
        ("SUR-01", {"answers": OPERATED}, date(2026, 3, 29)),
        ("PUL-03", {"answers": said(mouth_lately=("knock",), knocked_on=date(2026, 3, 1))}, date(2026, 5, 30)),
    ],
)
def test_a_passing_date_alone_never_clears_a_clinical_event(code: str, facts: dict[str, Any], not_before: date) -> None:
    assert finding(outcome(**facts), code).not_before == not_before
    assert finding(outcome(**facts, today=FAR), code).in_force
    assert outcome(**facts, today=not_before).of(finding(outcome(**facts), code).rule.family).not_before is None


@pytest.mark.parametrize(
    ("code", "facts"),
    [
        ("PRG-01", {"answers": said(pregnancy_may_apply="yes", pregnant="yes", breastfeeding="no")}),
        ("ALG-01", {"answers": said(reacted_to_peroxide="yes")}),
        ("PRV-01", {"answers": said(whitened_before="unsure")}),
        ("HYG-01", {"answers": said(last_cleaning="never")}),
        ("ORT-01", {"answers": said(worn_in_mouth=("braces",))}),
        ("EPI-01", {"answers": said(illnesses=("unsure",))}),
        ("MUC-03", {"answers": said(mouth_lining=("lichen_planus",))}),
    ],
)
def test_no_date_to_wait_for(code: str, facts: dict[str, Any]) -> None:
    assert outcome(**facts).not_before is None
    assert finding(outcome(**facts, today=FAR), code).in_force


@pytest.mark.parametrize(
    ("facts", "missing"),
    [
        ({"whitened_before": "yes"}, "PRV-01"),
        ({"whitening_now": "stopped"}, "PRV-03"),
        ({"whitened_before": "yes", "whitened_last_on": FAR_BACK, "whitening_hurt": None}, "PRV-02"),
        ({"whitened_before": "yes", "whitened_last_on": FAR_BACK, "whitening_often": None}, "PRV-04"),
        ({"illnesses": ("epilepsy",)}, "EPI-01"),
        ({"mouth_lately": ("surgery",)}, "SUR-01"),
        ({"mouth_lately": ("knock",)}, "PUL-03"),
        ({"worn_in_mouth": ("braces_off",)}, "ORT-01"),
        ({"smoking": "some", "smoke_free_hard": None}, "SMK-01"),
        ({"lying_back": ("asthma",), "asthma_troubles": None}, "RSP-01"),
    ],
)
def test_a_day_not_named_is_open(facts: dict[str, Any], missing: str) -> None:
    assert [unanswered.rule.code for unanswered in outcome(answers=said(**facts)).unanswered] == [missing]


@pytest.mark.parametrize(
    ("ticked", "over_on"),
    [
        (("extraction",), date(2026, 3, 29)),
        (("surgery",), date(2026, 4, 26)),
        (("extraction", "surgery"), date(2026, 4, 26)),
        (("unsure",), date(2026, 4, 26)),
        (("extraction", "unsure"), date(2026, 4, 26)),
    ],
)
def test_two_pauses_of_one_matter(ticked: tuple[str, ...], over_on: date) -> None:
    """28 days after a tooth was taken out, 56 after other surgery: the longer of what was ticked."""
    answers = said(mouth_lately=ticked, mouth_operated_on=date(2026, 3, 1), knocked_on=date(2026, 3, 1))
    assert finding(outcome(answers=answers), "SUR-01").not_before == over_on


@pytest.mark.parametrize(
    ("examined_on", "sore", "stands"),
    [(date(2026, 3, 28), False, True), (date(2026, 3, 29), False, False), (date(2026, 3, 29), True, True)],
)
def test_a_wound_is_looked_at_once_its_pause_is_over(examined_on: date, sore: bool, stands: bool) -> None:
    """An early look says nothing about healing, and neither does waiting without any look."""
    at = datetime(examined_on.year, examined_on.month, examined_on.day, 9, 0, tzinfo=UTC)
    looked = replace(LOOKED_AT_ALL, examined_at=at, examined_on=examined_on, soft_tissue=SoftTissue(sore=sore))
    result = outcome(answers=OPERATED, examination=looked, today=date(2026, 4, 2))
    assert finding(result, "SUR-01").in_force is stands


def test_a_fresh_cleaning_is_one_for_14_days() -> None:
    """A step to take care of, so no day to wait for; “in the last 7 days” counts from the day it was said."""
    facts: dict[str, Any] = {"answers": said(last_cleaning="under_1_week")}
    assert codes(outcome(**facts, today=date(2026, 3, 14))) == ["HYG-02"]
    assert outcome(**facts).not_before is None
    assert codes(outcome(**facts, today=date(2026, 3, 15))) == []


@pytest.mark.parametrize(
    ("cleaned_on", "fires"), [(date(2026, 2, 23), True), (date(2026, 2, 22), False), (None, False)]
)
def test_a_cleaning_that_the_examiner_dated_is_fresh_for_seven_days(cleaned_on: date | None, fires: bool) -> None:
    """Whatever the patient remembers; counted from the day of the examination, 2 March."""
    dated = replace(LOOKED_AT_ALL, cleaned_on=cleaned_on)
    assert (codes(outcome(examination=dated)) == ["HYG-02"]) is fires


SETTLED = [
    ("CRK-01", "hurts_on_biting"),
    ("PUL-01", "toothache"),
    ("PER-01", "gums_bleed"),
    ("PER-02", "gum_disease"),
    ("MUC-01", "mouth_sore"),
    ("HSV-01", "cold_sore"),
]


@pytest.mark.parametrize(("code", "question"), SETTLED)
def test_an_examination_settles_what_was_said_before_it(code: str, question: str) -> None:
    """The answer stays listed, as examined since; it no longer counts."""
    result = outcome(answers=said(**{question: "yes"}))
    assert finding(result, code).state is State.EXAMINED
    assert result.clear


@pytest.mark.parametrize(("code", "question"), SETTLED)
def test_and_never_what_was_said_after_it(code: str, question: str) -> None:
    """Not even a minute after it, on the same day."""
    later = EXAMINED_AT + timedelta(minutes=1)
    answers = WELL.changed(newer={question: Answer("yes", later, EXAMINED_ON)})
    assert finding(outcome(answers=answers), code).in_force


def test_a_clean_mouth_today_does_not_settle_a_history_of_cancer() -> None:
    assert finding(outcome(answers=said(mouth_cancer="yes")), "MUC-02").in_force


def test_a_filling_that_only_the_patient_knows_of() -> None:
    """Said after the examination: 14 days from the day it was said; by then it lies at least 14 days back."""
    said_at = datetime(2026, 3, 10, 8, 0, tzinfo=UTC)
    answers = WELL.changed(newer={"filling_lately": Answer("yes", said_at, date(2026, 3, 10))})
    assert outcome(answers=answers, today=date(2026, 3, 23)).not_before == date(2026, 3, 24)
    assert codes(outcome(answers=answers, today=date(2026, 3, 24))) == []
    unseen = replace(LOOKED_AT_ALL, looked_at=frozenset(Item) - {Item.RESTORATIONS})
    waiting = outcome(answers=answers, examination=unseen, today=date(2026, 3, 24))
    of_fillings = {"RES-01", "RES-02", "RES-03", "RES-04", "RES-05", "RES-06"}
    assert {unanswered.rule.code for unanswered in waiting.unanswered} == of_fillings


def test_the_newest_of_several_fillings_counts() -> None:
    fillings = (
        ToothFinding("11", restored_on=date(2026, 2, 25)),
        ToothFinding("21", restored_on=date(2026, 2, 20)),
        ToothFinding("22", restored_on=date(2025, 2, 20)),
        ToothFinding("23"),
    )
    fresh = finding(outcome(examination=replace(LOOKED_AT_ALL, teeth=fillings)), "RES-04")
    assert (fresh.teeth, fresh.not_before) == (("11", "21"), date(2026, 3, 11))


def test_a_filling_that_the_examiner_dated_ends_by_that_date() -> None:
    dated = replace(LOOKED_AT_ALL, teeth=(ToothFinding("11", restored_on=date(2026, 2, 20)),))
    facts: dict[str, Any] = {"answers": said(filling_lately="yes"), "examination": dated}
    assert finding(outcome(**facts, today=date(2026, 3, 5)), "RES-04").in_force
    assert finding(outcome(**facts, today=date(2026, 3, 6)), "RES-04").state is State.EXAMINED
    assert codes(outcome(**facts, today=date(2026, 3, 15))) == []


def test_medicines_are_checked_after_they_were_listed() -> None:
    listed = said(medicines=("doxycycline",))
    assert finding(outcome(answers=listed), "MED-01").state is State.EXAMINED
    grown = listed.changed(newer={"medicines": Answer(("doxycycline", "naproxen"), EXAMINED_AT, EXAMINED_ON)})
    assert finding(outcome(answers=grown), "MED-01").state is State.EXAMINED
    later = EXAMINED_AT + timedelta(seconds=1)
    unread = listed.changed(newer={"medicines": Answer(("doxycycline", "naproxen"), later, EXAMINED_ON)})
    assert finding(outcome(answers=unread), "MED-01").in_force
    assert "naproxen" not in finding(outcome(answers=unread), "MED-01").basis


@pytest.mark.parametrize(
    ("cleaned_on", "deposits", "fires"),
    [
        (None, False, True),
        (date(2026, 3, 2), False, False),
        (date(2026, 3, 2), True, True),
        # 180 days before the day asked about, and one day more.
        (date(2025, 9, 4), False, False),
        (date(2025, 9, 3), False, True),
    ],
)
def test_a_cleaning_dated_by_the_examiner_counts_first(cleaned_on: date | None, deposits: bool, fires: bool) -> None:
    examination = replace(LOOKED_AT_ALL, cleaned_on=cleaned_on, deposits=deposits)
    result = outcome(answers=said(last_cleaning="unsure"), examination=examination)
    assert ("HYG-01" in codes(result)) is fires


def test_days_and_instants_of_the_cast() -> None:
    assert ANSWERED_AT.date() == ANSWERED_ON < EXAMINED_ON
