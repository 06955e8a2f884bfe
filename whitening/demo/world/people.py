"""Invented people. Names from many languages; telephone numbers from a range that is kept free for fiction."""

import tomllib
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from random import Random

from clinic.accounts.models import Profession, Role
from clinic.patients.models import Channel

PASSWORD = "fern and alder and willow"  # noqa: S105  (the demo prints it)
PIN = "2580"
NAMES = Path(__file__).parent / "names.toml"


@dataclass(frozen=True, slots=True)
class Colleague:
    name: str
    initials: str
    email: str
    roles: tuple[Role, ...]
    profession: Profession = Profession.OTHER
    dentist: bool = False
    treats: bool = False


_TREATS = (Role.CLINICIAN,)
STAFF = (
    Colleague("Ines Calloway", "IC", "desk@example.org", (Role.DESK,)),
    Colleague("Tomasz Hale", "TH", "assistant@example.org", (Role.ASSISTANT,), Profession.NURSE),
    Colleague("Jonas Reed", "JR", "jonas@example.org", (Role.ASSISTANT,), Profession.NURSE),
    Colleague("Amara Lindqvist", "AL", "dentist@example.org", _TREATS, Profession.DENTIST, dentist=True, treats=True),
    Colleague("Mateo Ferreira", "MF", "mateo@example.org", _TREATS, Profession.DENTIST, dentist=True, treats=True),
    Colleague("Bea Norwood", "BN", "hygienist@example.org", _TREATS, Profession.HYGIENIST, treats=True),
    Colleague("Priya Fenn", "PF", "manager@example.org", (Role.MANAGER,)),
)

WISHES = (
    "My teeth look yellow in photographs. I would like them a bit lighter, not film-star white.",
    "Coffee and tea over the years. My daughter's wedding is in summer.",
    "They used to be lighter. I stopped smoking last year and want to see the difference.",
    "The upper front teeth bother me most, the lower ones less.",
    "I had it done years ago somewhere else and liked it.",
    "I smile with my mouth closed. I would like to stop doing that.",
)


@dataclass(frozen=True, slots=True)
class Invented:
    name: str
    birth_on: date
    email: str
    phone: str
    language: str
    allergies: str
    wishes: str
    address: str = ""
    channel: str = Channel.EMAIL


def patients(random: Random, count: int) -> list[Invented]:
    """Different people, the same ones for the same seed."""
    names = tomllib.loads(NAMES.read_text(encoding="utf-8"))
    pairs = [(first, last) for first in names["first"] for last in names["last"]]
    return [_patient(random, number, first, last) for number, (first, last) in enumerate(random.sample(pairs, count))]


def _patient(random: Random, number: int, first: str, last: str) -> Invented:
    return Invented(
        name=f"{first} {last}",
        birth_on=date(random.randint(1955, 2003), random.randint(1, 12), random.randint(1, 28)),
        email=f"patient{number + 1}@example.org",
        phone=f"+44207946{number:04d}",
        address=f"{number + 2} Brook Lane\nFernbrook FB1 {number % 9 + 1}AA",
        language=random.choices(("en", "es", "de", "ar"), weights=(85, 6, 6, 3))[0],
        allergies=random.choices(("", "latex", "sticking plaster"), weights=(90, 6, 4))[0],
        wishes=random.choice(WISHES),
    )
