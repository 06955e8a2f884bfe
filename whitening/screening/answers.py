"""What counts as an answer to a question: reading what was typed or tapped, and keeping it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext_lazy as _

from clinic.trail.refusals import Refusal
from whitening.screening.facts import AnswerValue
from whitening.screening.questions import Kind, Question, questionnaire
from whitening.screening.words import Words

# What a list sends when there is nothing to list: an empty field is no answer, "none" is one.
NONE_TAKEN = "none"
LINES_MOST = 60
LINE_LENGTH_MOST = 120
# Written out: int() would also take "1_0", "+3" and the digits of other scripts.
SCALE = {str(number): number for number in range(11)}


class AnswerRefused(Refusal):
    code = "screening.answer"
    sentence = _("This answer could not be read. Choose one of the answers shown.")


class AnswerMissing(AnswerRefused):
    code = "screening.answer_missing"
    sentence = _("This question has no answer yet. If you are not sure, say so.")


class ListEmpty(AnswerMissing):
    code = "screening.list_empty"
    sentence = _("Nothing is written here yet. Write it down, or tick the box below the lines.")


class DateUnreadable(AnswerRefused):
    code = "screening.date_unreadable"
    sentence = _("This is not a date of the calendar. Give the day, the month and the year.")


class DateAhead(AnswerRefused):
    code = "screening.date_ahead"
    sentence = _("This day has not come yet. Give a day up to today.")


class DateLongAgo(AnswerRefused):
    code = "screening.date_long_ago"
    sentence = _("This day is more than 100 years ago. Look at the year again.")


class NumberOutside(AnswerRefused):
    code = "screening.number_outside"
    sentence = _("Give a whole number from 0 to 10.")


class ListTooLong(AnswerRefused):
    code = "screening.list_too_long"
    sentence = _("This is more than fits here. Write one thing on each line, up to 60 lines of 120 letters.")


class ListAndNone(AnswerRefused):
    code = "screening.list_and_none"
    sentence = _("You wrote something and chose “none”. Keep one of the two.")


class SeveralAndNone(AnswerRefused):
    code = "screening.several_and_none"
    sentence = _("You picked something and “none of these”. Keep one of the two.")


@dataclass(frozen=True, slots=True)
class CheckedAnswers:
    """`missing` are the questions that apply and have no answer, in order."""

    values: Mapping[str, AnswerValue]
    errors: Mapping[str, Words]
    missing: tuple[Question, ...]

    @property
    def complete(self) -> bool:
        return not self.errors and not self.missing


def validate_answers(*, raw: Mapping[str, Sequence[str]], today: date) -> CheckedAnswers:
    """Whole forms, as on a tablet or from paper. An answer to a question that does not apply is dropped."""
    values: dict[str, AnswerValue] = {}
    errors: dict[str, Words] = {}
    missing: list[Question] = []
    for question in questionnaire().questions:
        # Conditions look back only, so the values read so far are enough.
        if not question.applies(values):
            continue
        try:
            values[question.id] = read_answer(question=question, raw=raw.get(question.id, ()), today=today)
        except AnswerMissing:
            missing.append(question)
        except AnswerRefused as refused:
            errors[question.id] = str(refused)
    return CheckedAnswers(values, errors, tuple(missing))


def read_answer(*, question: Question, raw: Sequence[str], today: date) -> AnswerValue:
    """What was typed or tapped, as a value. Raises AnswerMissing for nothing, else AnswerRefused with a sentence."""
    # Browsers send an empty string for a field that was left alone: that is no answer.
    given = [line for entry in raw for line in map(str.strip, entry.splitlines()) if line]
    if not given:
        raise ListEmpty if question.kind is Kind.LIST else AnswerMissing
    if question.kind is Kind.LIST:
        return _list(given)
    if question.kind is Kind.SEVERAL:
        return _several(question, given)
    if len(given) != 1:
        raise AnswerRefused
    match question.kind:
        case Kind.DATE:
            return _date(given[0], today)
        case Kind.NUMBER:
            return _number(given[0])
        case _:
            return _choice(question, given[0])


def _list(given: list[str]) -> tuple[str, ...]:
    if NONE_TAKEN in given:
        if len(given) > 1:
            raise ListAndNone
        return ()
    # NUL cannot be stored as text by PostgreSQL, and no medicine is written with one.
    lines = tuple(bare for line in given if (bare := line.replace("\0", "").strip()))
    if not lines:
        raise ListEmpty
    if len(lines) > LINES_MOST or max(map(len, lines)) > LINE_LENGTH_MOST:
        raise ListTooLong
    return lines


def _several(question: Question, given: list[str]) -> tuple[str, ...]:
    """In the order of the question, so that the same picks are the same answer."""
    if NONE_TAKEN in given:
        if len(given) > 1:
            raise SeveralAndNone
        return ()
    offered = dict(question.choices)
    if not set(given) <= set(offered):
        raise AnswerRefused
    return tuple(value for value in offered if value in given)


def _date(text: str, today: date) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise DateUnreadable from None
    if day > today:
        raise DateAhead
    if day.year < today.year - 100:
        raise DateLongAgo
    return day


def _number(text: str) -> int:
    if text not in SCALE:
        raise NumberOutside
    return SCALE[text]


def _choice(question: Question, text: str) -> str:
    if text not in dict(question.choices):
        raise AnswerRefused
    return text


def to_data(values: Mapping[str, AnswerValue]) -> dict[str, Any]:
    """Ready for a JSON column; dates as ISO text, lists as lists."""
    return {
        name: value.isoformat() if isinstance(value, date) else list(value) if isinstance(value, tuple) else value
        for name, value in values.items()
    }


def from_data(data: Mapping[str, Any]) -> dict[str, AnswerValue]:
    """The reverse. A question of an older version keeps the form in which it was stored."""
    kinds = {question.id: question.kind for question in questionnaire().questions}
    return {name: _restored(kinds.get(name), value) for name, value in data.items()}


def _restored(kind: Kind | None, value: Any) -> AnswerValue:
    if isinstance(value, list):
        return tuple(value)
    return date.fromisoformat(value) if kind is Kind.DATE else value
