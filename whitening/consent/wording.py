"""The consent's words: 21 elements per language, filled in from one patient's plan. Pure; no database.

What the program ships and what a practice writes over it pass one reader. Which version is in use, and whether it
may be signed in, the database knows: see whitening.consent.versions.
"""

import hashlib
import json
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from whitening.consent.elements import NAMES, REQUIRED, Required

FOLDER = Path(__file__).parent / "data" / "wording"
ELEMENTS = len(REQUIRED)
# Characters of the hash in a mark: enough to tell a slip of the pen from another wording, few enough to be typed.
MARKED = 6
_NAME = re.compile(r"{(\w+)}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Fault:
    """number: of the element, 0 for the wording as a whole. part: heading, words or source; empty for all of it."""

    number: int
    part: str
    sentence: StrOrPromise


class WordingRefused(ValueError):
    """A wording that lacks an element, a fact or a source, or names something the plan does not give."""

    def __init__(self, language: str, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__(f"{language}: {' '.join(str(fault.sentence) for fault in faults)}")


@dataclass(frozen=True, slots=True)
class Element:
    number: int
    heading: str
    paragraphs: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Wording:
    """origin: who wrote these words, and what became of them; for a reader of the list of versions."""

    language: str
    version: str
    origin: str
    elements: tuple[Element, ...]

    @property
    def sha256(self) -> str:
        """Of the words before anything is filled in: what somebody checks is exactly this."""
        return sha256(body(self.elements))

    @property
    def mark(self) -> str:
        """Language, version and the beginning of the hash, as the foot of a printed form bears them."""
        return f"{self.language}-{self.version}-{self.sha256[:MARKED]}"


@cache
def shipped() -> Mapping[str, tuple[Wording, ...]]:
    """Each language with its versions, the newest last. An earlier one stays, as `en-1.toml` beside `en.toml`."""
    found: dict[str, list[Wording]] = {}
    for path in FOLDER.glob("*.toml"):
        language = path.stem.partition("-")[0]
        found.setdefault(language, []).append(read(language, tomllib.loads(path.read_text("utf-8"))))
    return {
        language: tuple(sorted(found[language], key=lambda wording: int(wording.version))) for language in sorted(found)
    }


def read(language: str, content: Mapping[str, Any]) -> Wording:
    """Raises WordingRefused with everything that stands against it, not only the first."""
    faults = list(_faults(content))
    if faults:
        raise WordingRefused(language, faults)
    elements = tuple(
        Element(
            row["number"],
            row["heading"].strip(),
            tuple(paragraph.strip() for paragraph in row["paragraphs"]),
            row["source"].strip(),
        )
        for row in content["element"]
    )
    return Wording(language, str(content["version"]), content["origin"].strip(), elements)


def _faults(content: Mapping[str, Any]) -> Iterator[Fault]:
    for name in ("version", "origin"):
        if not str(content.get(name, "")).strip():
            yield Fault(0, "", _("The version, and where the words come from, must be named."))
    rows = list(content.get("element", ()))
    numbers = [row.get("number") for row in rows]
    for required in REQUIRED:
        if required.number not in numbers:
            yield _missing(required)
    if numbers != sorted(set(numbers) & {required.number for required in REQUIRED}):
        yield Fault(0, "", _("The elements must be numbered 1 to 21, in order, each once."))
        return
    for row in rows:
        yield from _faults_of(REQUIRED[row["number"] - 1], row)


def _faults_of(required: Required, row: Mapping[str, Any]) -> Iterator[Fault]:
    number = required.number
    words = [str(paragraph) for paragraph in row.get("paragraphs", ())]
    if not str(row.get("heading", "")).strip():
        yield Fault(number, "heading", _("Element %(number)d needs a heading.") % {"number": number})
    if not any(paragraph.strip() for paragraph in words):
        yield _missing(required)
    elif not_named := set(required.names) - set(_NAME.findall(" ".join(words))):
        names = ", ".join(f"{{{name}}}" for name in required.names if name in not_named)
        sentence = _("Element %(number)d does not name %(names)s. It must: that comes from the patient's plan.")
        yield Fault(number, "words", sentence % {"number": number, "names": names})
    if not str(row.get("source", "")).strip():
        sentence = _("Say where element %(number)d comes from. “Common practice, no source” is an answer too.")
        yield Fault(number, "source", sentence % {"number": number})
    yield from _braces(number, "heading", str(row.get("heading", "")), frozenset())
    yield from _braces(number, "words", " ".join(words), NAMES)


def _missing(required: Required) -> Fault:
    sentence = _("Element %(number)d is missing: %(says)s.")
    return Fault(required.number, "words", sentence % {"number": required.number, "says": required.says})


def _braces(number: int, part: str, text: str, known: Iterable[str]) -> Iterator[Fault]:
    """Nothing but a known name stands in braces: whatever else the formatter would understand is refused."""
    unknown = sorted(set(_NAME.findall(text)) - set(known))
    if unknown:
        names = ", ".join(f"{{{name}}}" for name in unknown)
        sentence = _("Element %(number)d: no plan gives %(names)s here. Take it out.")
        yield Fault(number, part, sentence % {"number": number, "names": names})
    elif re.search(r"[{}]", _NAME.sub("", text)):
        sentence = _("Element %(number)d: braces stand only around one of the names of the plan, as in {fee}.")
        yield Fault(number, part, sentence % {"number": number})


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
        sentence = _("Nothing gives %(name)s.") % {"name": missing}
        raise WordingRefused(wording.language, [Fault(0, "", sentence)]) from missing


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
