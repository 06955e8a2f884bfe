"""Ingredients of medicines: names to pick from while typing, and hints for the person who reads the list.

A hint is never an all-clear: what is not recognised, and what is recognised without a known effect, is read
by a person all the same. Only ingredients and their classes stand in the file.
"""

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from rapidfuzz import fuzz

from whitening.screening.grades import Quality
from whitening.screening.words import Words, words

FILE = Path(__file__).parent / "data" / "ingredients.toml"
# Of 100. Lets one slip of a finger pass in a word of eight letters; shorter names must be spelt as they are.
SPELT_ALIKE = 88
LETTERS_TO_GUESS = 7


class Effect(StrEnum):
    LIGHT = "light"
    RETINOID = "retinoid"
    HYPERICUM = "hypericum"


class IngredientsRefused(ValueError):
    """The file of ingredients names one twice, or lacks a source."""


@dataclass(frozen=True, slots=True)
class Ingredient:
    name: str
    text: Words
    effect: Effect | None
    source: str
    quality: Quality


@dataclass(frozen=True, slots=True)
class Hint:
    """One line of the patient's list, and what was recognised in it; nothing recognised says nothing."""

    line: str
    found: tuple[Ingredient, ...]


@cache
def ingredients() -> Mapping[str, Ingredient]:
    return MappingProxyType(read_ingredients(tomllib.loads(FILE.read_text(encoding="utf-8"))))


def read_ingredients(content: Mapping[str, Any]) -> dict[str, Ingredient]:
    """By the folded name."""
    read: dict[str, Ingredient] = {}
    for group, row in content.items():
        if group == "version":
            continue
        for one in _group(group, row):
            if folded(one.name) in read:
                raise IngredientsRefused(f"{one.name}: stands in two groups")
            read[folded(one.name)] = one
    return read


def _group(group: str, row: Mapping[str, Any]) -> Iterator[Ingredient]:
    if not str(row.get("source", "")).strip():
        raise IngredientsRefused(f"{group}: source is missing")
    effect = Effect(row["effect"]) if "effect" in row else None
    for name in row["names"]:
        yield Ingredient(name, words(row["text"]), effect, row["source"], Quality(row["quality"]))


def names() -> tuple[str, ...]:
    """To pick from while typing; a name on it says nothing about the medicine."""
    return tuple(sorted((one.name for one in ingredients().values()), key=str.casefold))


def hints(lines: Iterable[str]) -> tuple[Hint, ...]:
    return tuple(Hint(line, recognised(line)) for line in lines)


# Not remembered from call to call: the lines are a patient's.
def recognised(line: str) -> tuple[Ingredient, ...]:
    """Every ingredient that a line names, spelt as it is or nearly so."""
    spaced = f" {folded(line)} "
    whole = {name: one for name, one in ingredients().items() if f" {name} " in spaced}
    alike = {name: one for word in spaced.split() if word not in whole for name, one in _spelt_like(word)}
    return tuple((whole | alike).values())


def _spelt_like(word: str) -> Iterator[tuple[str, Ingredient]]:
    if len(word) < LETTERS_TO_GUESS:
        return
    for name, one in ingredients().items():
        if len(name) >= LETTERS_TO_GUESS and fuzz.ratio(word, name) >= SPELT_ALIKE:
            yield name, one


def with_effect(lines: Iterable[str], effect: Effect) -> tuple[Ingredient, ...]:
    return tuple(one for line in lines for one in recognised(line) if one.effect is effect)


def folded(text: str) -> str:
    """Without case, accents and marks between words: as people type on a phone."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return " ".join(re.split(r"[^\w]+", bare.replace("'", "").replace("’", ""))).strip()
