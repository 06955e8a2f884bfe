"""What a practice may put into its own words by name, in braces: each kind of message declares its slots.

The program's own templates are written with the same names, so that its words can be shown with their braces.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Final

from django_stubs_ext import StrOrPromise

from clinic.accounts.models import Site
from clinic.patients.models import Channel

Context = Mapping[str, Any]


class Part(StrEnum):
    SUBJECT = "subject"
    TEXT = "text"
    SMS = "sms"


PARTS: Final[Mapping[str, tuple[Part, ...]]] = {
    Channel.EMAIL: (Part.SUBJECT, Part.TEXT),
    Channel.TEXT: (Part.SMS,),
}
EVERYWHERE: Final = frozenset(Part)
NOWHERE: Final[frozenset[Part]] = frozenset()
# A locked screen shows subjects and texts, and whoever has the number now may be somebody else: no name stands there.
ONLY_INSIDE: Final = frozenset({Part.TEXT})
SAID_IN_FULL: Final = frozenset({Part.TEXT, Part.SMS})


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One name in braces: `of` reads its value from what the kind knows of a message, `example` invents one."""

    name: str
    says: StrOrPromise
    of: Callable[[Context], str]
    example: Callable[[Site], str]
    may_stand_in: frozenset[Part] = EVERYWHERE
    needed_in: frozenset[Part] = NOWHERE
    # An address: nothing may stand right before or after it.
    stands_alone: bool = False

    @property
    def braces(self) -> str:
        return f"{{{self.name}}}"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnWords:
    """A kind whose words a practice may write itself."""

    slots: tuple[Slot, ...]
    # What the kind's templates ask for besides, as it is in the usual case.
    usually: Mapping[str, Any] = field(default_factory=dict)
    # A case that only the program's words tell rightly, and a sentence about it for whoever writes.
    except_when: Callable[[Context], bool] | None = None
    exception: StrOrPromise = ""

    def values(self, context: Context) -> dict[str, str]:
        return {slot.name: slot.of(context) for slot in self.slots}

    def examples(self, site: Site) -> dict[str, str]:
        return {slot.name: slot.example(site) for slot in self.slots}

    def braces(self) -> dict[str, str]:
        return {slot.name: slot.braces for slot in self.slots}

    def standing_in(self, part: Part) -> Iterator[Slot]:
        return (slot for slot in self.slots if part in slot.may_stand_in)

    def needed_in(self, part: Part) -> Iterator[Slot]:
        return (slot for slot in self.slots if part in slot.needed_in)
