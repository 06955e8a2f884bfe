"""The rules in force, read once from data/rules, one file to a family."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from whitening.screening.loader import Rule, read_rules
from whitening.screening.questions import questionnaire

FOLDER = Path(__file__).parent / "data" / "rules"


@cache
def rules() -> Mapping[str, Rule]:
    found = read_rules(
        files=sorted(FOLDER.glob("*.toml")),
        questions=[question.id for question in questionnaire().questions],
    )
    return MappingProxyType(found)


def rule(code: str) -> Rule:
    return rules()[code]


# Names the state of every family, to be kept beside an outcome that somebody decided on.
RULES_VERSION = " ".join(sorted({f"{found.family}:{found.version}" for found in rules().values()}))
