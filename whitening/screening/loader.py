"""Reads rule files and refuses what a rule may not lack: above all its source.

A mistake in a rule file must stop the program at start, in words that say which rule, not surface as a
gate that quietly stays open.
"""

import tomllib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Any, TypeVar

from dateutil.relativedelta import relativedelta

from whitening.screening.examination import Item
from whitening.screening.grades import (
    NEVER_OVERRIDABLE,
    AnsweredBy,
    Decider,
    Family,
    Grade,
    PlanChange,
    Quality,
)
from whitening.screening.words import Words, words

Choice = TypeVar("Choice", bound=StrEnum)
TEXTS = ("finding", "reason", "what_to_do")
KNOWN = frozenset(
    {*TEXTS, "grade", "answered_by", "asks", "looks_at", "uses_birth_date", "lamp_only", "source", "quality"}
    | {"clears", "at_the_chair"}
)
KNOWN_CLEARS = frozenset(
    {"after_days", "after_days_of", "after_months", "interval_quality", "by_date", "on_event", "decided_by", "by_plan"}
    | {"decision_needs_plan", "by_letter"}
)


class RuleRefused(ValueError):
    """A rule file holds something that no rule may be without, or that none may hold."""


@dataclass(frozen=True, slots=True)
class Clears:
    """How a finding ends. `by_date` marks the few whose event is the date itself: no other ends by waiting.

    `after_days_of` is for one matter with several pauses, by the answer that was picked; `after_months` for one
    that is told in months: where both are named, both must have passed.
    """

    on_event: Words
    decided_by: Decider
    after_days: int | None = None
    after_days_of: Mapping[str, int] = field(default_factory=dict)
    after_months: int | None = None
    interval_quality: Quality | None = None
    by_date: bool = False
    by_plan: PlanChange | None = None
    decision_needs_plan: PlanChange | None = None
    # Somebody outside the practice is asked in writing, and a dentist decides on the answer.
    by_letter: bool = False

    @property
    def waits(self) -> bool:
        return bool(self.after_days or self.after_days_of or self.after_months)

    def over_on(self, day: date, *, of: Collection[str] = ()) -> date:
        """The first day on which the pause that began on `day` is over; without a pause, that day itself."""
        days = [self.after_days or 0, *(self.after_days_of.get(one, 0) for one in of)]
        by_days = day + timedelta(days=max(days))
        return max(by_days, day + relativedelta(months=self.after_months or 0))


@dataclass(frozen=True, slots=True)
class Rule:
    code: str
    family: Family
    grade: Grade
    answered_by: AnsweredBy
    asks: tuple[str, ...]
    looks_at: Item | None
    finding: Words
    reason: Words
    what_to_do: Words
    # What the chair lists until it is tapped done; anybody in the room may read it, so it names no reason.
    at_the_chair: Words | None
    clears: Clears
    lamp_only: bool
    source: str
    quality: Quality
    version: str

    @property
    def never_overridable(self) -> bool:
        return self.family in NEVER_OVERRIDABLE


def read_rules(*, files: Iterable[Path], questions: Collection[str]) -> dict[str, Rule]:
    rules: dict[str, Rule] = {}
    for file in files:
        # A code in two files would let the second one overwrite the first unseen.
        for rule in read_family(tomllib.loads(file.read_text(encoding="utf-8"))):
            if rule.code in rules:
                raise RuleRefused(f"{rule.code}: stands in two files")
            _check_names(rule, questions=questions)
            rules[rule.code] = rule
    return rules


def read_family(content: Mapping[str, Any]) -> list[Rule]:
    """One file: its version, its family, and a table for each rule."""
    rows = dict(content)
    try:
        version, family = rows.pop("version"), Family(rows.pop("family"))
    except (KeyError, ValueError) as fault:
        raise RuleRefused(f"a rule file needs a version and a known family: {fault}") from fault
    return [_rule(code=code, row=row, family=family, version=version) for code, row in rows.items()]


def _rule(*, code: str, row: Mapping[str, Any], family: Family, version: str) -> Rule:
    _no_strangers(code, row, KNOWN)
    # "No text found" is a source too; silence is not.
    for name in (*TEXTS, "source"):
        if not str(row.get(name, "")).strip():
            raise RuleRefused(f"{code}: {name} is missing")
    rule = Rule(
        code=code,
        family=family,
        grade=_grade(code, row),
        answered_by=_choice(code, AnsweredBy, row.get("answered_by")),
        asks=tuple(row.get("asks", ())),
        looks_at=_choice(code, Item, row["looks_at"]) if "looks_at" in row else None,
        finding=words(row["finding"]),
        reason=words(row["reason"]),
        what_to_do=words(row["what_to_do"]),
        at_the_chair=words(row["at_the_chair"]) if "at_the_chair" in row else None,
        clears=_clears(code, row.get("clears", {})),
        lamp_only=row.get("lamp_only", False),
        source=row["source"],
        quality=_choice(code, Quality, row.get("quality")),
        version=version,
    )
    _check_sense(rule, uses_birth_date=row.get("uses_birth_date", False))
    return rule


def _clears(code: str, row: Mapping[str, Any]) -> Clears:
    _no_strangers(code, row, KNOWN_CLEARS)
    if not row.get("on_event"):
        raise RuleRefused(f"{code}: what ends the finding is missing")
    days, months, days_of = row.get("after_days"), row.get("after_months"), row.get("after_days_of", {})
    pauses = [one for one in (days, months, *days_of.values()) if one is not None]
    if any(not isinstance(one, int) or one < 1 for one in pauses):
        raise RuleRefused(f"{code}: a pause counts whole days or months, 1 or more")
    # Rule and interval often come from different places: the pause is mostly convention.
    if bool(pauses) != ("interval_quality" in row):
        raise RuleRefused(f"{code}: a pause and the quality of its source go together")
    return Clears(
        on_event=words(row["on_event"]),
        decided_by=_choice(code, Decider, row.get("decided_by")),
        after_days=days,
        after_days_of=dict(days_of),
        after_months=months,
        interval_quality=_choice(code, Quality, row["interval_quality"]) if pauses else None,
        by_date=row.get("by_date", False),
        by_plan=_choice(code, PlanChange, row["by_plan"]) if "by_plan" in row else None,
        decision_needs_plan=(
            _choice(code, PlanChange, row["decision_needs_plan"]) if "decision_needs_plan" in row else None
        ),
        by_letter=row.get("by_letter", False),
    )


def _check_sense(rule: Rule, *, uses_birth_date: bool) -> None:
    if rule.never_overridable and rule.clears.decided_by is not Decider.NOBODY:
        raise RuleRefused(f"{rule.code}: nobody decides about law, age and consent")
    # A must-not is replaced by an examined finding of a dentist, or by no one.
    if rule.grade is Grade.MUST_NOT and rule.clears.decided_by is Decider.CLINICIAN:
        raise RuleRefused(f"{rule.code}: only a dentist replaces a must-not")
    if rule.clears.by_letter and rule.clears.decided_by is not Decider.DENTIST:
        raise RuleRefused(f"{rule.code}: a dentist reads the answer to a letter")
    # What forbids or defers is settled before the chair, and a note asks for nothing.
    if rule.at_the_chair is not None and rule.grade is not Grade.WITH_CARE:
        raise RuleRefused(f"{rule.code}: only what is done with care has a step at the chair")
    # A rule that nobody is asked about could never fire.
    if rule.answered_by is AnsweredBy.PATIENT and not (rule.asks or uses_birth_date):
        raise RuleRefused(f"{rule.code}: the patient answers, but no question is named")
    if rule.answered_by is AnsweredBy.CLINICIAN and rule.looks_at is None:
        raise RuleRefused(f"{rule.code}: the clinician answers, but nothing to look at is named")
    if rule.lamp_only and rule.clears.by_plan is not PlanChange.NO_LIGHT:
        raise RuleRefused(f"{rule.code}: a rule about the light ends with a plan without a light")


def _check_names(rule: Rule, *, questions: Collection[str]) -> None:
    if unknown := [name for name in rule.asks if name not in questions]:
        raise RuleRefused(f"{rule.code}: no question {', '.join(unknown)}")


def _no_strangers(code: str, row: Mapping[str, Any], known: Collection[str]) -> None:
    """A misspelt column would otherwise be a rule that silently lacks it."""
    if strangers := sorted(set(row) - set(known)):
        raise RuleRefused(f"{code}: unknown column {', '.join(strangers)}")


def _grade(code: str, row: Mapping[str, Any]) -> Grade:
    by_code = {grade.code: grade for grade in Grade}
    if row.get("grade") not in by_code:
        raise RuleRefused(f"{code}: grade must be one of {', '.join(by_code)}")
    return by_code[row["grade"]]


def _choice(code: str, kind: type[Choice], value: object) -> Choice:
    try:
        return kind(str(value))
    except ValueError:
        raise RuleRefused(f"{code}: {value!r} is no {kind.__name__}") from None
