"""How urgent an answer to "How are you?" is. Pure: answers and the age of the session in, rules that fired out.

The rules and their sources stand in data/triage.csv; each has one named function here. The worst one decides.
"""

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from enum import IntEnum
from functools import cache
from pathlib import Path

FILE = Path(__file__).parent / "data" / "triage.csv"
RULES_VERSION = "1"


class Urgency(IntEnum):
    """Worst last; the numbers are those of the Reply table."""

    ROUTINE = 0
    WITHIN_DAYS = 1
    SAME_DAY = 2
    URGENT = 3
    EMERGENCY = 4


@dataclass(frozen=True, slots=True)
class Answers:
    """What was said. Sensitivity 0 to 10; a question that was not answered is None, which is never a no."""

    sensitivity: int | None = None
    falling: bool | None = None
    woke_at_night: bool | None = None
    one_tooth: bool | None = None
    gums: str | None = None  # "fine", "white_fading", "raw"
    swelling: bool | None = None
    eye: bool | None = None
    painkillers: str | None = None  # "none", "by_the_label", "more_or_still"
    satisfaction: int | None = None  # 1 (very unhappy) to 5 (very happy)
    call_me: bool = False


@dataclass(frozen=True, slots=True)
class Rule:
    code: str
    urgency: Urgency
    advice: str
    source: str
    quality: str


class TriageRefused(ValueError):
    """A row without a source, or one that no function stands behind."""


@dataclass(frozen=True, slots=True)
class Triage:
    rules: tuple[Rule, ...]

    @property
    def urgency(self) -> Urgency:
        return max((rule.urgency for rule in self.rules), default=Urgency.ROUTINE)

    @property
    def codes(self) -> list[str]:
        return [rule.code for rule in self.rules]

    @property
    def worries(self) -> bool:
        return self.urgency > Urgency.ROUTINE


Fires = Callable[[Answers, timedelta], bool]
DAY = timedelta(days=1)


def mild(answers: Answers, age: timedelta) -> bool:
    return answers.sensitivity is not None and answers.sensitivity <= 3


def sensitive(answers: Answers, age: timedelta) -> bool:
    return answers.sensitivity is not None and 4 <= answers.sensitivity <= 6


def strong_pain(answers: Answers, age: timedelta) -> bool:
    return answers.sensitivity is not None and answers.sensitivity >= 7


def one_tooth_or_waking(answers: Answers, age: timedelta) -> bool:
    hurts = answers.sensitivity is None or answers.sensitivity > 0
    rising = answers.falling is False and hurts and (answers.sensitivity or 0) > 0
    return bool(answers.woke_at_night or rising or (answers.one_tooth and hurts))


def white_patch(answers: Answers, age: timedelta) -> bool:
    return answers.gums == "white_fading"


def raw_gums(answers: Answers, age: timedelta) -> bool:
    return answers.gums == "raw"


def swelling(answers: Answers, age: timedelta) -> bool:
    return bool(answers.swelling)


def eye(answers: Answers, age: timedelta) -> bool:
    return bool(answers.eye)


def unhappy(answers: Answers, age: timedelta) -> bool:
    return answers.satisfaction is not None and answers.satisfaction <= 2


def painkillers(answers: Answers, age: timedelta) -> bool:
    return answers.painkillers == "more_or_still"


def sensitive_day_four(answers: Answers, age: timedelta) -> bool:
    """Still four or more on the fourth day: 96 hours, counted from the session."""
    return age >= 4 * DAY and (answers.sensitivity or 0) >= 4


def sensitive_after_week(answers: Answers, age: timedelta) -> bool:
    return age >= 7 * DAY and (answers.sensitivity or 0) > 0


def call_me(answers: Answers, age: timedelta) -> bool:
    return answers.call_me


FUNCTIONS: Mapping[str, Fires] = {
    "mild": mild,
    "sensitive": sensitive,
    "strong_pain": strong_pain,
    "one_tooth_or_waking": one_tooth_or_waking,
    "white_patch": white_patch,
    "raw_gums": raw_gums,
    "swelling": swelling,
    "eye": eye,
    "unhappy": unhappy,
    "painkillers": painkillers,
    "sensitive_day_four": sensitive_day_four,
    "sensitive_after_week": sensitive_after_week,
    "call_me": call_me,
}


@cache
def rules() -> tuple[Rule, ...]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return read(csv.DictReader(file))


def read(rows: "csv.DictReader[str]") -> tuple[Rule, ...]:
    found = tuple(_rule(row) for row in rows)
    if {rule.advice for rule in found} != set(FUNCTIONS):
        raise TriageRefused("rules and functions do not match one to one")
    return found


def _rule(row: Mapping[str, str]) -> Rule:
    if not row["source"].strip():
        raise TriageRefused(f"{row['code']}: a source is missing")
    return Rule(row["code"], Urgency[row["urgency"]], row["advice"], row["source"], row["quality"])


def triage(answers: Answers, *, age: timedelta) -> Triage:
    """Every rule that fires, in the order of the file. age: time since the session was closed."""
    return Triage(tuple(rule for rule in rules() if FUNCTIONS[rule.advice](answers, age)))
