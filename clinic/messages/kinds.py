"""The kinds of message there are. Each part registers its own in `AppConfig.ready`.

A kind says for what purpose it speaks, how its subject is loaded, whether it is still wanted at the
moment of hand-over, and what it says. It never sends anything itself.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Generic, TypeAlias, TypeVar

from django.db import models
from django.utils.functional import Promise

from clinic.messages import purposes
from clinic.messages.letters import Letter
from clinic.messages.models import DueMessage
from clinic.messages.wordings.slots import OwnWords
from clinic.patients.models import Purpose

S = TypeVar("S")
# True: send. False or a few fixed words (no personal or clinical content): cancel, for that reason.
Wanted: TypeAlias = bool | str


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipient:
    """Whom a message goes to when that is not the patient (a colleague on call, say)."""

    name: str
    email: str
    phone: str
    # What the person wants; what is written is in that language only where it is spoken here.
    language: str


@dataclass(frozen=True, kw_only=True)
class LinkSpec(Generic[S]):
    """The kind carries a private link of this purpose (clinic.messages.purposes), made at hand-over."""

    purpose: str | Callable[[S], str]
    subject_id: Callable[[S], int]
    # The window of that purpose, where the subject as it was read says it and nothing has to be read again.
    window: Callable[[S, datetime], purposes.Window | None] | None = None

    def purpose_for(self, subject: S) -> str:
        return self.purpose if isinstance(self.purpose, str) else self.purpose(subject)

    def window_for(self, subject: S, now: datetime) -> purposes.Window | None:
        if self.window is not None:
            return self.window(subject, now)
        return purposes.get(self.purpose_for(subject)).window(self.subject_id(subject), now)


@dataclass(frozen=True, kw_only=True)
class Reading(Generic[S]):
    """Which rows a subject is read from: one subject, or those of a whole batch of messages in one question."""

    model: type[models.Model]
    # What is read along with the row, and of that what many subjects have in common: one object for all of them.
    related: Collection[str]
    shared: Collection[str] = ()
    # Which of the first decide, as the row itself does, whether a message is still wanted: compared at hand-over.
    deciding: Collection[str] = ()
    # What the words need besides, read for the whole batch as well.
    further: Callable[[Collection[S], datetime], None] | None = None

    def one(self, pk: int) -> S | None:
        rows: Any = self.model._default_manager.select_related(*self.related, *self.shared)
        found: S | None = rows.filter(pk=pk).first()
        return found

    def many(self, pks: Collection[int]) -> dict[int, S]:
        rows: Any = self.model._default_manager.select_related(*self.related).prefetch_related(*self.shared)
        return {row.pk: row for row in rows.filter(pk__in=pks)}


@dataclass(frozen=True, kw_only=True)
class Kind(Generic[S]):
    code: str
    # What staff read in lists and on the timeline.
    label: str | Promise
    purpose: Purpose
    subject_kind: str
    load: Callable[[int], S | None]
    still_wanted: Callable[[S, DueMessage, datetime], Wanted]
    compose: Callable[[S, DueMessage, str], Letter]
    # Template folder with subject.txt, text.txt, sms.txt, written with the slots of own_words where a practice may
    # write its own; a test checks every word in it.
    wording: str
    # How long after its due time it may still go out, unless the planner gives its own limit.
    lasts: timedelta
    link: LinkSpec[S] | None = None
    # For kinds of which many go out at once: how a batch of their subjects is read. The others are read one by one.
    reading: Reading[S] | None = None
    # An uncertain one may be sent once more by itself; never where it carries a link.
    resend_uncertain: bool = False
    # About harm: no daily or weekly limit, closed days too, and silence or failure becomes a call.
    safety: bool = False
    # The answer to something the person has just done: goes out at any hour, outside the limits.
    on_request: bool = False
    # Has to be answered within minutes: outside the limits, and a person calls where it cannot go out now.
    urgent: bool = False
    # Asked for in that very moment, so neither an opt-out nor "please call me" stands against it.
    despite_choices: bool = False
    # A later step asks once more, and only on a channel that no earlier step went out on.
    later_steps_elsewhere: bool = False
    # Where a letter may carry it (letter.txt in the folder above): by when it has to have arrived. What is about harm,
    # or is a link and nothing else, is no matter for the post.
    letter_by: Callable[[S, DueMessage], datetime] | None = None
    recipient: Callable[[S, DueMessage], Recipient | None] | None = None
    # What a practice may put into words of its own; None: this one is always said in the program's words.
    own_words: OwnWords | None = None
    keeps_limits: bool = field(init=False)

    def __post_init__(self) -> None:
        if self.link is not None and self.resend_uncertain:
            raise ValueError(f"{self.code}: a message with a private link is never sent again by itself.")
        if self.letter_by is not None and self.becomes_call:
            raise ValueError(f"{self.code}: a letter is too slow for what becomes a call.")
        object.__setattr__(self, "keeps_limits", not self._is_outside_limits())

    @property
    def becomes_call(self) -> bool:
        """What is not sent is a call to make."""
        return self.safety or self.urgent

    def _is_outside_limits(self) -> bool:
        return self.safety or self.on_request or self.urgent or self.recipient is not None


class UnknownKind(LookupError):
    """A programming error, not a refusal: nobody registered this kind."""


_kinds: dict[str, Kind[Any]] = {}


def register(kind: Kind[Any]) -> None:
    if _kinds.get(kind.code, kind) is not kind:
        raise ValueError(f"The kind of message {kind.code!r} is registered twice.")
    _kinds[kind.code] = kind


def label_of(code: str) -> str | Promise:
    """Also of an old row whose kind is gone by now: lists still name it somehow."""
    kind = _kinds.get(code)
    return kind.label if kind is not None else code


def get(code: str) -> Kind[Any]:
    try:
        return _kinds[code]
    except KeyError:
        raise UnknownKind(f"Nobody registered the kind of message {code!r}.") from None


def registered() -> dict[str, Kind[Any]]:
    return dict(_kinds)
