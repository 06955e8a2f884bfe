"""The consent's words: 21 elements per language, filled in from one patient's plan. Pure; no database.

A language has a file here only after somebody was named in it who checked the translation: without that name,
and without the program's own pages in that language, the consent is read and signed in English.
"""

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.conf import settings

from clinic.accounts.languages import spoken

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
    checked_by: str
    elements: tuple[Element, ...]


@cache
def wordings() -> Mapping[str, Wording]:
    return {
        path.stem: read(path.stem, tomllib.loads(path.read_text("utf-8"))) for path in sorted(FOLDER.glob("*.toml"))
    }


def read(language: str, content: Mapping[str, object]) -> Wording:
    """Raises WordingRefused unless somebody checked it and all 21 elements stand in order, each with a source."""
    checked_by = str(content.get("checked_by", "")).strip()
    if not checked_by:
        raise WordingRefused(f"{language}: say in checked_by who checked this wording")
    rows = content.get("element")
    if not isinstance(rows, list) or [row.get("number") for row in rows] != list(range(1, ELEMENTS + 1)):
        raise WordingRefused(f"{language}: the elements must be numbered 1 to {ELEMENTS} in order")
    elements = tuple(
        Element(row["number"], row["heading"], tuple(row["paragraphs"]), row.get("source", "").strip()) for row in rows
    )
    for element in elements:
        if not element.source or not element.paragraphs:
            raise WordingRefused(f"{language}: element {element.number} needs words and a source")
    return Wording(language, str(content["version"]), checked_by, elements)


def signable(language: str) -> str:
    """The language in which this patient's consent is shown, signed and kept."""
    code = spoken(language)
    return code if code in wordings() else settings.LANGUAGE_CODE


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
