"""What every payload shares: it is a plain record, and one that could not be true is refused where it is made."""

from dataclasses import dataclass
from typing import ClassVar

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol.kinds import Kind
from whitening.shade.tabs import TABS

TAB_CODES = frozenset(tab.code for tab in TABS)


class BadPayload(ValueError):
    """An entry that cannot be written down: the sentence says what is wrong and what to do."""

    def __init__(self, sentence: str | Promise) -> None:
        super().__init__(str(sentence))
        self.sentence = sentence


def demand(holds: bool, sentence: str | Promise) -> None:
    if not holds:
        raise BadPayload(sentence)


def demand_tab(tab: str) -> None:
    demand(tab in TAB_CODES, _("That is no tab of this guide. Pick one of the sixteen."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    id: int
    name: str

    def __post_init__(self) -> None:
        demand(self.id > 0 and bool(self.name.strip()), _("A person needs a name. Pick somebody from the list."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Payload:
    """The root of all payloads; a kind without more to say is a payload with no fields."""

    kind: ClassVar[Kind]
    # Written by the server as it records the entry; never taken from the wire.
    filled_in: ClassVar[frozenset[str]] = frozenset()
