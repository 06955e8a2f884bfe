"""The consent's words: 21 elements per language, filled in from one patient's plan. Pure; no database.

A language has a file here only after somebody was named who checked it; the practice records that too
before anybody can sign in it.
"""

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent / "data" / "wording"
ELEMENTS = 21


class WordingRefused(ValueError):
    """A wording file that lacks an element, a source, or names something the plan does not give."""


@dataclass(frozen=True, slots=True)
class Element:
    number: int
    heading: str
    paragraphs: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Wording:
    language: str
    version: str
    elements: tuple[Element, ...]


@cache
def wordings() -> Mapping[str, Wording]:
    return {
        path.stem: read(path.stem, tomllib.loads(path.read_text("utf-8"))) for path in sorted(FOLDER.glob("*.toml"))
    }


def read(language: str, content: Mapping[str, object]) -> Wording:
    """Raises WordingRefused unless all 21 elements stand in order, each with a source."""
    rows = content.get("element")
    if not isinstance(rows, list) or [row.get("number") for row in rows] != list(range(1, ELEMENTS + 1)):
        raise WordingRefused(f"{language}: the elements must be numbered 1 to {ELEMENTS} in order")
    elements = tuple(
        Element(row["number"], row["heading"], tuple(row["paragraphs"]), row.get("source", "").strip()) for row in rows
    )
    for element in elements:
        if not element.source or not element.paragraphs:
            raise WordingRefused(f"{language}: element {element.number} needs words and a source")
    return Wording(language, str(content["version"]), elements)


def fill(wording: Wording, values: Mapping[str, str]) -> tuple[Element, ...]:
    """The elements with the plan's values put in. Raises WordingRefused for a name that the plan does not give."""
    try:
        return tuple(
            Element(
                element.number,
                element.heading,
                tuple(" ".join(paragraph.format_map(values).split()) for paragraph in element.paragraphs),
                element.source,
            )
            for element in wording.elements
        )
    except KeyError as missing:
        raise WordingRefused(f"{wording.language}: nothing gives {missing}") from missing


def body(elements: tuple[Element, ...]) -> str:
    """The exact text that is frozen, as canonical JSON: the hash is over these characters in UTF-8."""
    rows = [
        {"number": one.number, "heading": one.heading, "paragraphs": list(one.paragraphs), "source": one.source}
        for one in elements
    ]
    return json.dumps(rows, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def elements_of(text: str) -> tuple[Element, ...]:
    return tuple(
        Element(row["number"], row["heading"], tuple(row["paragraphs"]), row["source"]) for row in json.loads(text)
    )


def sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()
