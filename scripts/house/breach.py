"""One broken rule at one place, and how the places of a pattern are found."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, order=True)
class Breach:
    path: Path
    line: int
    sentence: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.sentence}"


@dataclass(frozen=True)
class Rule:
    pattern: re.Pattern[str]
    sentence: str


def rule(pattern: str, sentence: str) -> Rule:
    return Rule(re.compile(pattern, re.IGNORECASE), sentence)


def line_of(text: str, position: int) -> int:
    return text.count("\n", 0, position) + 1


def find(rules: tuple[Rule, ...], *, text: str, path: Path) -> Iterator[Breach]:
    for each in rules:
        for match in each.pattern.finditer(text):
            yield Breach(path, line_of(text, match.start()), f"{each.sentence} ({match.group().strip()[:60]})")


def blank(pattern: re.Pattern[str], text: str) -> str:
    """The text without what the pattern finds, its line breaks kept so that line numbers stay true."""
    return pattern.sub(lambda match: "\n" * match.group().count("\n"), text)
