"""The stage of a case, derived from facts and never stored."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise


class Stage(StrEnum):
    ENQUIRY = "enquiry"
    QUESTIONS = "questions"
    EXAMINED = "examined"
    AGREED = "agreed"
    TREATING = "treating"
    FOLLOWING_UP = "following_up"
    CLOSED = "closed"

    @property
    def label(self) -> StrOrPromise:
        return LABELS[self]


# Nothing is started any more, so nothing has to be clear.
OVER = frozenset({Stage.FOLLOWING_UP, Stage.CLOSED})
LABELS: dict[Stage, StrOrPromise] = {
    Stage.ENQUIRY: _("enquiry"),
    Stage.QUESTIONS: _("questions"),
    Stage.EXAMINED: _("examined"),
    Stage.AGREED: _("agreed"),
    Stage.TREATING: _("treating"),
    Stage.FOLLOWING_UP: _("following up"),
    Stage.CLOSED: _("closed"),
}


@dataclass(frozen=True, slots=True)
class StageFacts:
    closed: bool = False
    has_answers: bool = False
    has_examination: bool = False
    agreed: bool = False
    sessions_planned: int = 0
    sessions_opened: int = 0
    sessions_closed: int = 0


def stage(facts: StageFacts) -> Stage:
    """The furthest point that the facts prove. A withdrawn consent takes an agreed case back to examined."""
    if facts.closed:
        return Stage.CLOSED
    if facts.sessions_closed and facts.sessions_closed >= facts.sessions_planned:
        return Stage.FOLLOWING_UP
    if facts.sessions_opened:
        return Stage.TREATING
    if facts.agreed:
        return Stage.AGREED
    if facts.has_examination:
        return Stage.EXAMINED
    return Stage.QUESTIONS if facts.has_answers else Stage.ENQUIRY


def waiting_until(*, deferred_until: date | None, not_before: date | None, today: date) -> date | None:
    """The later of the two days, when it still lies ahead."""
    days = [day for day in (deferred_until, not_before) if day is not None and day > today]
    return max(days, default=None)
