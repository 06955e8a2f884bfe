"""A rule file that lacks something is refused at start, in words that name the rule."""

from pathlib import Path
from typing import Any

import pytest

from whitening.screening.loader import RuleRefused, read_family, read_rules

GOOD: dict[str, Any] = {
    "grade": "not_yet",
    "answered_by": "patient",
    "asks": ["cold_sore"],
    "finding": "A cold sore",
    "reason": "It spreads.",
    "what_to_do": "Wait.",
    "source": "no text found",
    "quality": "memory",
    "clears": {"on_event": "healed", "decided_by": "clinician"},
}


def family(row: dict[str, Any], **head: Any) -> dict[str, Any]:
    return {"version": "1", "family": "gums", **head, "XYZ-01": row}


def without(name: str) -> dict[str, Any]:
    return {key: value for key, value in GOOD.items() if key != name}


def clears(**changes: Any) -> dict[str, Any]:
    return GOOD | {"clears": GOOD["clears"] | changes}


def test_a_good_row() -> None:
    (rule,) = read_family(family(GOOD))
    assert (rule.code, rule.family, rule.version, rule.looks_at, rule.lamp_only) == ("XYZ-01", "gums", "1", None, False)


BAD: list[tuple[str, dict[str, Any], str]] = [
    ("no source", without("source"), "source is missing"),
    ("a blank source", GOOD | {"source": "  "}, "source is missing"),
    ("no reason", without("reason"), "reason is missing"),
    ("no quality", without("quality"), "is no Quality"),
    ("an unknown quality", GOOD | {"quality": "sure"}, "is no Quality"),
    ("an unknown grade", GOOD | {"grade": "stop"}, "grade must be one of"),
    ("nobody answers", without("answered_by"), "is no AnsweredBy"),
    ("no question", without("asks"), "no question is named"),
    ("nothing to look at", GOOD | {"answered_by": "clinician"}, "nothing to look at is named"),
    ("an unknown item", GOOD | {"looks_at": "wallet"}, "is no Item"),
    ("a misspelt column", GOOD | {"sorce": "x"}, "unknown column sorce"),
    ("no way to end", without("clears"), "what ends the finding is missing"),
    ("a misspelt clearing", clears(after_day=3), "unknown column after_day"),
    ("nobody named", GOOD | {"clears": {"on_event": "healed"}}, "is no Decider"),
    ("no months", clears(after_months=0, interval_quality="memory"), "1 or more"),
    ("no days of one", clears(after_days_of={"surgery": 0}, interval_quality="memory"), "1 or more"),
    ("days of one without a source", clears(after_days_of={"surgery": 3}), "go together"),
    ("a step at the chair of what waits", GOOD | {"at_the_chair": "Wait."}, "only what is done with care"),
    ("no days", clears(after_days=0, interval_quality="memory"), "1 or more"),
    ("days in words", clears(after_days="a fortnight", interval_quality="memory"), "1 or more"),
    ("days without a source", clears(after_days=3), "go together"),
    ("a source without days", clears(interval_quality="memory"), "go together"),
    ("an unknown change of plan", clears(by_plan="no_gel"), "is no PlanChange"),
    ("an unknown condition", clears(decision_needs_plan="no_gel"), "is no PlanChange"),
    ("a must-not for any clinician", GOOD | {"grade": "must_not"}, "only a dentist"),
    ("a light rule that no plan ends", GOOD | {"lamp_only": True}, "without a light"),
]


@pytest.mark.parametrize(("row", "sentence"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_refused(row: dict[str, Any], sentence: str) -> None:
    with pytest.raises(RuleRefused, match=sentence) as refused:
        read_family(family(row))
    assert str(refused.value).startswith("XYZ-01: ")


@pytest.mark.parametrize("name", ["law", "age", "consent"])
def test_nobody_decides_about_law_age_and_consent(name: str) -> None:
    with pytest.raises(RuleRefused, match="nobody decides"):
        read_family(family(GOOD, family=name))
    read_family(family(clears(decided_by="nobody"), family=name))


@pytest.mark.parametrize("content", [{"version": "1"}, {"family": "gums"}, {"version": "1", "family": "hats"}])
def test_a_file_names_its_version_and_family(content: dict[str, Any]) -> None:
    with pytest.raises(RuleRefused, match="needs a version and a known family"):
        read_family(content)


TEXT = """
version = "1"
family = "gums"
[XYZ-01]
grade = "not_yet"
answered_by = "patient"
asks = ["cold_sore"]
finding = "A cold sore"
reason = "It spreads."
what_to_do = "Wait."
source = "no text found"
quality = "memory"
clears = { on_event = "healed", decided_by = "clinician" }
"""


def read(folder: Path, *, questions: list[str], copies: int = 1) -> Any:
    files = [folder / f"{number}.toml" for number in range(copies)]
    for file in files:
        file.write_text(TEXT, encoding="utf-8")
    return read_rules(files=files, questions=questions)


def test_names_are_checked_against_the_questions(tmp_path: Path) -> None:
    assert set(read(tmp_path, questions=["cold_sore"])) == {"XYZ-01"}
    with pytest.raises(RuleRefused, match="no question cold_sore"):
        read(tmp_path, questions=["other"])


def test_a_code_stands_once(tmp_path: Path) -> None:
    with pytest.raises(RuleRefused, match="stands in two files"):
        read(tmp_path, questions=["cold_sore"], copies=2)
