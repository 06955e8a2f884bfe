"""How urgent an answer to "How are you?" is. Pure: answers and the day since the session in, rules that fired out.

The rules and their sources stand in data/triage.csv; each has one named function here. The worst one decides.
"""

import csv
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
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
    # The highest since the session and smoking are for whoever calls back: no rule rests on them.
    worst: int | None = None
    falling: bool | None = None
    woke_at_night: bool | None = None
    one_tooth: bool | None = None
    gums: str | None = None  # "fine", "white_fading", "raw"
    swelling: bool | None = None
    eye: bool | None = None
    painkillers: str | None = None  # "none", "by_the_label", "more_or_still"
    smoke: str | None = None  # "free", "smoked", "never"
    satisfaction: int | None = None  # 1 (very unhappy) to 5 (very happy)
    call_me: bool = False


@dataclass(frozen=True, slots=True)
class Rule:
    code: str
    urgency: Urgency
    # Whether the patient is asked to call; otherwise the practice does.
    patient_calls: bool
    advice: str
    asks_again: bool
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

    @property
    def asks_again(self) -> bool:
        """Whether the patient is asked once more two days later."""
        return any(rule.asks_again for rule in self.rules)


Fires = Callable[[Answers, int], bool]


def mild(answers: Answers, day: int) -> bool:
    return answers.sensitivity is not None and answers.sensitivity <= 3


def sensitive(answers: Answers, day: int) -> bool:
    return answers.sensitivity is not None and 4 <= answers.sensitivity <= 6


def strong_pain(answers: Answers, day: int) -> bool:
    return answers.sensitivity is not None and answers.sensitivity >= 7


def one_tooth_or_waking(answers: Answers, day: int) -> bool:
    hurts = answers.sensitivity is None or answers.sensitivity > 0
    return bool(answers.woke_at_night or (hurts and (answers.falling is False or answers.one_tooth)))


def white_patch(answers: Answers, day: int) -> bool:
    return answers.gums == "white_fading"


def raw_gums(answers: Answers, day: int) -> bool:
    return answers.gums == "raw"


def swelling(answers: Answers, day: int) -> bool:
    return bool(answers.swelling)


def eye(answers: Answers, day: int) -> bool:
    return bool(answers.eye)


def unhappy(answers: Answers, day: int) -> bool:
    return answers.satisfaction is not None and answers.satisfaction <= 2


def painkillers(answers: Answers, day: int) -> bool:
    return answers.painkillers == "more_or_still"


def sensitive_day_four(answers: Answers, day: int) -> bool:
    """Still four or more on the fourth day."""
    return day >= 4 and (answers.sensitivity or 0) >= 4


def sensitive_after_week(answers: Answers, day: int) -> bool:
    return day >= 7 and (answers.sensitivity or 0) > 0


def call_me(answers: Answers, day: int) -> bool:
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
    return Rule(
        code=row["code"],
        urgency=Urgency[row["urgency"]],
        patient_calls=row["patient_calls"] == "yes",
        advice=row["advice"],
        asks_again=row["asks_again"] == "yes",
        source=row["source"],
        quality=row["quality"],
    )


def triage(answers: Answers, *, day: int) -> Triage:
    """Every rule that fires, in the order of the file. day: local days since the session, its own day is 0."""
    return Triage(tuple(rule for rule in rules() if FUNCTIONS[rule.advice](answers, day)))


def kept(codes: Collection[str]) -> Triage:
    """A triage as it was written down: never graded again, even when the rules have changed since."""
    return Triage(tuple(rule for rule in rules() if rule.code in codes))
