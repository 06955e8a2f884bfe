"""Rows of the rule set that a gate of the session holds. As rules they could be decided away, or be asked too early."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from whitening.screening.grades import Grade, Quality
from whitening.screening.words import Words, words

FILE = Path(__file__).parent / "data" / "held_by_gates.toml"


@dataclass(frozen=True, slots=True)
class Held:
    """`how` says in a sentence what the gates wait for."""

    code: str
    grade: Grade
    finding: Words
    how: Words
    gates: tuple[str, ...]
    source: str
    quality: Quality


@cache
def held_by_gates() -> Mapping[str, Held]:
    content = tomllib.loads(FILE.read_text(encoding="utf-8"))
    grades = {grade.code: grade for grade in Grade}
    rows = {code: row for code, row in content.items() if code != "version"}
    return MappingProxyType(
        {
            code: Held(
                code=code,
                grade=grades[row["grade"]],
                finding=words(row["finding"]),
                how=words(row["how"]),
                gates=tuple(row["gates"]),
                source=row["source"],
                quality=Quality(row["quality"]),
            )
            for code, row in rows.items()
        }
    )
