"""Repeats the sentences of data files where the extractor of gettext finds them.

Run it after a change of whitening/screening/data: `python -m scripts.extract_words`.
"""

import csv
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

SCREENING = Path(__file__).parent.parent / "whitening" / "screening"
DATA = SCREENING / "data"
# Which columns hold words that somebody reads.
WORDS = frozenset(
    {
        "text",
        "hint",
        "name",
        "patient_name",
        "finding",
        "reason",
        "what_to_do",
        "at_the_chair",
        "on_event",
        "none",
        "how",
    }
)
JURISDICTION_WORDS = ("name", "cap_basis", "note")

LINE_LENGTH = 120

HEAD = '''"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
'''


def files() -> dict[Path, str]:
    """Every file that belongs there, with its content."""
    folder = SCREENING / "extracted"
    return {
        folder / "__init__.py": "",
        **{folder / f"rules_{path.stem}.py": _module(_all_toml([path])) for path in (DATA / "rules").glob("*.toml")},
        folder / "held_by_gates.py": _module(_all_toml([DATA / "held_by_gates.toml"])),
        folder / "questions.py": _module(_all_toml([DATA / "questions.toml", DATA / "reask.toml"])),
        folder / "ingredients.py": _module(_all_toml([DATA / "ingredients.toml"])),
        folder / "teeth.py": _module(_all_toml([DATA / "teeth.toml"])),
        folder / "places.py": _module(_jurisdictions()),
    }


def _all_toml(paths: Iterable[Path]) -> Iterator[str]:
    for path in paths:
        yield from _texts(tomllib.loads(path.read_text(encoding="utf-8")))


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, list):
        for entry in value:
            yield from _texts(entry)
    elif isinstance(value, dict):
        for key, entry in value.items():
            if key in WORDS and isinstance(entry, str):
                yield entry
            else:
                yield from _texts(entry)


def _jurisdictions() -> Iterator[str]:
    rows = csv.DictReader((DATA / "jurisdictions.csv").read_text(encoding="utf-8").splitlines())
    for row in rows:
        yield from (row[name] for name in JURISDICTION_WORDS)


def _module(texts: Iterable[str]) -> str:
    lines = "".join(_line(_quoted(text)) for text in dict.fromkeys(texts))
    return f"{HEAD}{lines})\n"


def _line(text: str) -> str:
    """As the formatter leaves it, so that a fresh file is no change."""
    short = f"    _({text}),\n"
    return short if len(short) <= LINE_LENGTH + 1 else f"    _(\n        {text}\n    ),\n"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


if __name__ == "__main__":
    for path, content in files().items():
        path.parent.mkdir(exist_ok=True)
        path.write_text(content, encoding="utf-8")
        print(path.relative_to(SCREENING.parent.parent))
