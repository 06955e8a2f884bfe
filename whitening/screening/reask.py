"""The day's re-ask: the real list, each item shown or read aloud, before anybody may say "all as before"."""

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from pathlib import Path

from django.utils.translation import gettext_lazy as _

from clinic.trail.refusals import Refusal
from whitening.screening.facts import Answer, Answers
from whitening.screening.questions import CHOICES, Kind, questionnaire
from whitening.screening.words import Words, words

FILE = Path(__file__).parent / "data" / "reask.toml"


# Not wanting to go on is no finding that a clinician could decide about: it is a withdrawal.
GO_AHEAD = "go_ahead"


class ReaskRefused(ValueError):
    """The file of the re-ask names a question that is not asked."""


class NotAllShown(Refusal):
    code = "screening.reask_not_all_shown"
    sentence = _("Show or read out every item first. Then “all as before” can be recorded.")


class ReplyUnknown(Refusal):
    code = "screening.reask_reply"
    sentence = _("Each item is answered with yes or no. Choose one of the two.")


@dataclass(frozen=True, slots=True)
class ReaskItem:
    """`usual` is the reply that changes nothing."""

    id: str
    text: Words
    usual: str
    asked_when: Mapping[str, frozenset[str]] = field(default_factory=dict)
    sets: Mapping[str, str] = field(default_factory=dict)
    forgets: tuple[str, ...] = ()

    @property
    def needs_decision(self) -> bool:
        """No rule stands behind it, so another reply goes to a clinician."""
        return not self.sets and not self.forgets


@dataclass(frozen=True, slots=True)
class ReaskResult:
    """`missing`: shown or not, no reply yet. `changed`: another reply than the usual one."""

    missing: tuple[ReaskItem, ...]
    changed: tuple[ReaskItem, ...]

    @property
    def complete(self) -> bool:
        return not self.missing

    @property
    def to_decide(self) -> tuple[ReaskItem, ...]:
        return tuple(item for item in self.changed if item.needs_decision)


@dataclass(frozen=True, slots=True)
class ReaskList:
    version: str
    items: tuple[ReaskItem, ...]


@cache
def reask_list() -> ReaskList:
    content = tomllib.loads(FILE.read_text(encoding="utf-8"))
    known = {question.id for question in questionnaire().questions}
    version = content.pop("version")
    items = []
    for name, row in content.items():
        touched = {*row.get("sets", {}), *row.get("forgets", ()), *row.get("asked_when", {})}
        if unknown := sorted(touched - known):
            raise ReaskRefused(f"{name}: no question {', '.join(unknown)}")
        items.append(
            ReaskItem(
                id=name,
                text=words(row["text"]),
                usual=row["usual"],
                asked_when={earlier: frozenset(wanted) for earlier, wanted in row.get("asked_when", {}).items()},
                sets=row.get("sets", {}),
                forgets=tuple(row.get("forgets", ())),
            )
        )
    return ReaskList(version, tuple(items))


def reask_items(answers: Answers) -> tuple[ReaskItem, ...]:
    """The items for this patient: pregnancy only where it was asked before."""
    values = answers.values
    return tuple(
        item
        for item in reask_list().items
        if all(values.get(name) in wanted for name, wanted in item.asked_when.items())
    )


def check_reask(*, items: Collection[ReaskItem], shown: Collection[str], replies: Mapping[str, str]) -> ReaskResult:
    """A reply to an item that was not shown is no reply."""
    allowed = dict(CHOICES[Kind.YES_NO])
    if any(reply not in allowed for reply in replies.values()):
        raise ReplyUnknown
    # What was not in front of the patient was not asked, whatever the form sent.
    given = {item.id: replies[item.id] for item in items if item.id in replies and item.id in shown}
    return ReaskResult(
        missing=tuple(item for item in items if item.id not in given),
        changed=tuple(item for item in items if given.get(item.id, item.usual) != item.usual),
    )


def all_as_before(*, items: Collection[ReaskItem], shown: Collection[str]) -> ReaskResult:
    """One press for the whole list, once each item has been in front of the patient."""
    if any(item.id not in shown for item in items):
        raise NotAllShown
    return check_reask(items=items, shown=shown, replies={item.id: item.usual for item in items})


def still_open(*, changed: Collection[str], decided: bool) -> tuple[ReaskItem, ...]:
    """Replies of one re-ask that keep the gate shut: those without a rule until decided; a "no" for good."""
    waiting = tuple(item for item in reask_list().items if item.id in changed and item.needs_decision)
    return tuple(item for item in waiting if item.id == GO_AHEAD or not decided)


def apply_reask(*, answers: Answers, result: ReaskResult, asked_at: datetime, asked_on: date) -> Answers:
    """What changed is laid over the answers, to be graded again; what no longer holds is open again."""
    newer = {name: Answer(value, asked_at, asked_on) for item in result.changed for name, value in item.sets.items()}
    forget = {name for item in result.changed for name in item.forgets}
    return answers.changed(newer=newer, forget=forget)
