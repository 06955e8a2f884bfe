"""The day's re-ask: every item shown before "all as before", and what a change does to the outcome."""

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from tests.whitening.screening.someone import TODAY, codes, finding, open_codes, outcome, said
from whitening.screening import reask
from whitening.screening.outcome import State
from whitening.screening.questions import Kind, questionnaire
from whitening.screening.reask import (
    NotAllShown,
    ReaskRefused,
    ReplyUnknown,
    all_as_before,
    apply_reask,
    check_reask,
    reask_items,
    reask_list,
)

AT = datetime(2026, 3, 3, 13, 0, tzinfo=UTC)
PREGNANCY_ASKED = said(pregnancy_may_apply="yes", pregnant="no", breastfeeding="no")
ITEMS = reask_items(said())
SHOWN = [item.id for item in ITEMS]
USUAL = {item.id: item.usual for item in ITEMS}


def test_the_real_list() -> None:
    assert [item.id for item in reask_items(PREGNANCY_ASKED)] == [
        "new_medicine",
        "pregnancy",
        "mouth_sore",
        "cold_sore",
        "whitened_since",
        "more_sensitive",
        "filling_since",
        "cleaning_since",
        "illness",
        "operation",
        "mouth_open",
        "go_ahead",
    ]
    assert reask_list().version == "1"


def test_pregnancy_only_where_it_was_asked_before() -> None:
    assert "pregnancy" not in SHOWN
    assert "pregnancy" in [item.id for item in reask_items(said(pregnancy_may_apply="in_private"))]


def test_all_as_before_needs_every_item_shown() -> None:
    assert all_as_before(items=ITEMS, shown=SHOWN).complete
    assert all_as_before(items=ITEMS, shown=SHOWN).changed == ()
    for left_out in SHOWN:
        with pytest.raises(NotAllShown):
            all_as_before(items=ITEMS, shown=[name for name in SHOWN if name != left_out])


def test_a_reply_to_what_was_not_shown_is_no_reply() -> None:
    result = check_reask(items=ITEMS, shown=SHOWN[1:], replies=USUAL | {SHOWN[0]: "yes"})
    assert [item.id for item in result.missing] == [SHOWN[0]]
    assert (result.changed, result.complete) == ((), False)


def test_an_item_without_a_reply_is_missing() -> None:
    replies = {name: reply for name, reply in USUAL.items() if name != "go_ahead"}
    assert [item.id for item in check_reask(items=ITEMS, shown=SHOWN, replies=replies).missing] == ["go_ahead"]


def test_another_word_than_yes_or_no() -> None:
    with pytest.raises(ReplyUnknown):
        check_reask(items=ITEMS, shown=SHOWN, replies=USUAL | {"illness": "maybe"})


@pytest.mark.parametrize(
    ("item", "fires", "opens"),
    [
        ("new_medicine", [], ["LGT-04", "LGT-05", "LGT-06", "MED-01"]),
        ("pregnancy", [], ["PRG-01", "PRG-02", "PRG-03"]),
        ("mouth_sore", ["MUC-01"], []),
        ("cold_sore", ["HSV-01"], []),
        ("whitened_since", ["PRV-03"], []),
        ("more_sensitive", [], ["SEN-01", "SEN-02"]),
        ("filling_since", ["RES-04"], []),
        ("cleaning_since", ["HYG-02"], []),
    ],
)
def test_a_change_is_graded_again(item: str, fires: list[str], opens: list[str]) -> None:
    """The examination of the day before settles nothing that is said today."""
    items = reask_items(PREGNANCY_ASKED)
    replies = {one.id: one.usual for one in items} | {item: "yes"}
    result = check_reask(items=items, shown=[one.id for one in items], replies=replies)
    assert [one.id for one in result.changed] == [item]
    assert result.to_decide == ()
    answers = apply_reask(answers=PREGNANCY_ASKED, result=result, asked_at=AT, asked_on=TODAY)
    after = outcome(answers=answers)
    assert codes(after) == fires
    assert open_codes(after) == opens
    assert all(found.state is State.STANDS for found in after.findings)


def test_the_earlier_answers_stay_as_they_were() -> None:
    before = said()
    result = check_reask(items=ITEMS, shown=SHOWN, replies=USUAL | {"mouth_sore": "yes"})
    after = apply_reask(answers=before, result=result, asked_at=AT, asked_on=TODAY)
    assert (before.values["mouth_sore"], after.values["mouth_sore"]) == ("no", "yes")
    assert after.given["mouth_sore"].given_on == date(2026, 3, 3)
    assert after.given["cold_sore"] == before.given["cold_sore"]
    assert finding(outcome(answers=after), "MUC-01").not_before == date(2026, 3, 17)


@pytest.mark.parametrize("item", ["illness", "operation", "mouth_open", "go_ahead"])
def test_a_change_without_a_rule_goes_to_a_clinician(item: str) -> None:
    other = "no" if USUAL[item] == "yes" else "yes"
    result = check_reask(items=ITEMS, shown=SHOWN, replies=USUAL | {item: other})
    assert [one.id for one in result.to_decide] == [item]


def test_what_a_change_writes_is_an_answer_that_can_be_given() -> None:
    for item in reask_list().items:
        for name, value in item.sets.items():
            question = questionnaire().question(name)
            assert question.kind in {Kind.YES_NO, Kind.YES_NO_UNSURE, Kind.CHOICE}
            assert value in dict(question.choices)


def test_a_list_that_names_an_unknown_question(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "reask.toml"
    file.write_text('version = "1"\n[odd]\ntext = "So?"\nusual = "no"\nforgets = ["made_up"]\n', encoding="utf-8")
    monkeypatch.setattr(reask, "FILE", file)
    with pytest.raises(ReaskRefused, match="odd: no question made_up"):
        reask_list.__wrapped__()
