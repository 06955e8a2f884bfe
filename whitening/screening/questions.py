"""The versioned questionnaire: what is asked, of whom, and in which order."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from django.utils.translation import gettext_lazy as _

from whitening.screening.facts import AnswerValue
from whitening.screening.words import Words, words

FILE = Path(__file__).parent / "data" / "questions.toml"


class Kind(StrEnum):
    YES_NO = "yes_no"
    YES_NO_UNSURE = "yes_no_unsure"
    DATE = "date"
    NUMBER = "number"
    LIST = "list"
    CHOICE = "choice"
    # Any number of the choices, and "none of these" as an answer of its own.
    SEVERAL = "several"


class QuestionRefused(ValueError):
    """The file of questions asks something that cannot be asked."""


YES_NO: tuple[tuple[str, Words], ...] = (("yes", _("Yes")), ("no", _("No")))
UNSURE: tuple[str, Words] = ("unsure", _("I am not sure"))
CHOICES: Mapping[Kind, tuple[tuple[str, Words], ...]] = MappingProxyType(
    {Kind.YES_NO: YES_NO, Kind.YES_NO_UNSURE: (*YES_NO, UNSURE)}
)
WITH_CHOICES = frozenset({Kind.CHOICE, Kind.SEVERAL})
# What the answer "nothing of it" is called, where the question has no words of its own for it.
NONE: Mapping[Kind, Words] = MappingProxyType({Kind.LIST: _("None"), Kind.SEVERAL: _("None of these")})


@dataclass(frozen=True, slots=True)
class Question:
    """`private`: the clinician asks it face to face, and it is never sent home. `none`: the answer "nothing of it"."""

    id: str
    kind: Kind
    text: Words
    hint: Words = ""
    choices: tuple[tuple[str, Words], ...] = ()
    asked_when: Mapping[str, frozenset[str]] = field(default_factory=dict)
    private: bool = False
    none: Words = ""

    def applies(self, values: Mapping[str, AnswerValue]) -> bool:
        """By what the patient said, never by a guess: an open earlier question leaves this one for later."""
        return all(_said_one_of(values.get(name), wanted) for name, wanted in self.asked_when.items())


def _said_one_of(value: AnswerValue | None, wanted: frozenset[str]) -> bool:
    return not wanted.isdisjoint(value) if isinstance(value, tuple) else value in wanted


@dataclass(frozen=True, slots=True)
class Questionnaire:
    version: str
    questions: tuple[Question, ...]

    def question(self, name: str) -> Question:
        return next(question for question in self.questions if question.id == name)


@cache
def questionnaire() -> Questionnaire:
    return read_questionnaire(tomllib.loads(FILE.read_text(encoding="utf-8")))


def read_questionnaire(content: Mapping[str, Any]) -> Questionnaire:
    rows = dict(content)
    version = rows.pop("version")
    questions: list[Question] = []
    for name, row in rows.items():
        question = _question(name, row)
        # A page can only depend on pages before it, or the back link would go in circles.
        if unknown := set(question.asked_when) - {earlier.id for earlier in questions}:
            raise QuestionRefused(f"{name}: asked after {', '.join(sorted(unknown))}, which does not come before it")
        questions.append(question)
    return Questionnaire(version, tuple(questions))


def _question(name: str, row: Mapping[str, Any]) -> Question:
    kind = Kind(row["kind"])
    choices = tuple((choice["value"], words(choice["text"])) for choice in row.get("choices", ()))
    if (kind in WITH_CHOICES) != bool(choices):
        raise QuestionRefused(f"{name}: choices belong to the kinds “choice” and “several”, and to no other")
    if kind is Kind.SEVERAL:
        # Whoever is not sure about one of them is not sure about the page: a person sorts it out.
        choices = (*choices, UNSURE)
    return Question(
        id=name,
        kind=kind,
        text=words(row["text"]),
        hint=words(row.get("hint", "")),
        choices=choices or CHOICES.get(kind, ()),
        asked_when={earlier: frozenset(wanted) for earlier, wanted in row.get("asked_when", {}).items()},
        private=row.get("private", False),
        none=words(row["none"]) if "none" in row else NONE.get(kind, ""),
    )


def questions_for(values: Mapping[str, AnswerValue]) -> tuple[Question, ...]:
    """Every question that applies so far, private ones too, in order."""
    return tuple(question for question in questionnaire().questions if question.applies(values))


def home_questions(values: Mapping[str, AnswerValue]) -> tuple[Question, ...]:
    return tuple(question for question in questions_for(values) if not question.private)


# The list that suggestions and hints by ingredient belong to.
MEDICINES = "medicines"
# "I would rather talk about it at the practice" is no answer yet: the clinician asks face to face.
IN_PRIVATE = "in_private"


def open_questions(
    *, held: Mapping[str, AnswerValue], said: Mapping[str, AnswerValue] | None = None
) -> tuple[Question, ...]:
    """What staff may still ask, given what stands and what is being said now: never what has an answer already."""
    applying = questions_for({**held, **(said or {})})
    return tuple(question for question in applying if held.get(question.id, IN_PRIVATE) == IN_PRIVATE)


def in_private(question: Question, held: Mapping[str, AnswerValue]) -> bool:
    """Asked by a clinician alone: by its nature, or because the patient would rather have it so."""
    return question.private or held.get(question.id) == IN_PRIVATE


def next_question(values: Mapping[str, AnswerValue]) -> Question | None:
    """Where to go on: the first that applies and has no answer. None when all is answered."""
    return next((question for question in home_questions(values) if question.id not in values), None)


def question_before(*, name: str, values: Mapping[str, AnswerValue]) -> Question | None:
    """For the back link."""
    earlier: Question | None = None
    for question in home_questions(values):
        if question.id == name:
            return earlier
        earlier = question
    return None
