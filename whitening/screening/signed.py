"""What a clinician signs as read: every finding of the body as it stands, in one order, and nothing of the day."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from whitening.screening.grades import AnsweredBy, Family, Grade
from whitening.screening.outcome import Outcome, State
from whitening.screening.rulebook import rules
from whitening.screening.words import Words

# Local rules and the consent are known on the day only, and stand on pages of their own.
_NOT_OF_THE_BODY = (Family.LAW, Family.CONSENT)


def of_the_body(outcome: Outcome) -> Outcome:
    return outcome.without(*_NOT_OF_THE_BODY)


def is_complete(outcome: Outcome) -> bool:
    """Everything is answered and looked at; what stands may still stand."""
    return all(one.waits_for is AnsweredBy.SYSTEM for one in of_the_body(outcome).unanswered)


def to_data(outcome: Outcome, others: Sequence[tuple[int, Outcome]] = ()) -> dict[str, Any]:
    """Ready for a JSON column. others: of the other courses that are read with it, each by the key of its case."""
    data: dict[str, Any] = {"findings": _findings(outcome)}
    if others:
        data["others"] = [{"case": key, "findings": _findings(one)} for key, one in others]
    return data


def _findings(outcome: Outcome) -> list[dict[str, Any]]:
    findings = sorted(of_the_body(outcome).findings, key=lambda finding: finding.rule.code)
    return [
        {
            "rule": finding.rule.code,
            "grade": finding.rule.grade.code,
            "state": str(finding.state),
            "basis": finding.basis,
            "teeth": list(finding.teeth),
        }
        for finding in findings
    ]


def digest(data: Mapping[str, Any]) -> str:
    """SHA-256 over the sorted JSON, in hexadecimal."""
    return hashlib.sha256(json.dumps(data, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Line:
    finding: Words | str
    grade: Words | str
    state: Words
    teeth: tuple[str, ...]


def lines(data: Mapping[str, Any]) -> list[Line]:
    """As words, those of the other courses last. A rule that is no more keeps its code."""
    grades = {grade.code: grade.label for grade in Grade}
    read = [data, *data.get("others", ())]
    return [
        Line(
            rules()[row["rule"]].finding if row["rule"] in rules() else row["rule"],
            grades.get(row["grade"], row["grade"]),
            State(row["state"]).label,
            tuple(row["teeth"]),
        )
        for course in read
        for row in course["findings"]
    ]
