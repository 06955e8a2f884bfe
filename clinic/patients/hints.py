"""What other rooms want to say or show on patient pages, without this room knowing them.

A birth hint is a function of the date of birth and today that gives a sentence or nothing; it shows as
the date is typed. A section is a template with the context it needs, shown on the patient's page.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import HttpRequest
from django_stubs_ext import StrOrPromise

from clinic.patients.models import Patient

BirthHint = Callable[[date, date], StrOrPromise | None]
_birth_hints: list[BirthHint] = []
_sections: dict[str, "Section"] = {}


@dataclass(frozen=True, slots=True)
class Section:
    code: str
    template: str
    context: Callable[[HttpRequest, Patient], dict[str, Any]]
    # What is done with a patient comes before what is kept of them.
    position: int = 50


def register_birth_hint(hint: BirthHint) -> None:
    if hint not in _birth_hints:
        _birth_hints.append(hint)


def register_section(section: Section) -> None:
    _sections[section.code] = section


def birth_hints(*, birth_on: date, today: date) -> list[StrOrPromise]:
    return [said for hint in _birth_hints if (said := hint(birth_on, today)) is not None]


def sections() -> list[Section]:
    return sorted(_sections.values(), key=lambda section: (section.position, section.code))
