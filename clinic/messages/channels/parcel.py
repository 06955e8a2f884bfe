"""What a channel is given, and what it may answer."""

from dataclasses import dataclass
from enum import Enum

from clinic.accounts.models import Site
from clinic.accounts.post import LetterNotTaken
from clinic.messages.kinds import Recipient
from clinic.messages.letters import Letter


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """A letter with an address on it. `message_id` is the same for each attempt at one message."""

    letter: Letter
    recipient: Recipient
    site: Site
    message_id: str
    # Where one click ends messages of this purpose (RFC 8058); empty where that does not apply.
    end_url: str = ""


class Fate(Enum):
    TAKEN = "taken"
    # Surely not sent, and worth another try.
    LATER = "later"
    # Surely not sent, and no other try on this channel will change that.
    REFUSED = "refused"
    # Nobody can say: it may have gone out.
    UNCERTAIN = "uncertain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Handed:
    fate: Fate
    # Fixed words for staff; never an address, a name or a server's own text.
    reason: str = ""
    provider_id: str = ""
    # The server said no to this very mail, to its recipient or its text, and not to everybody or not at all.
    is_of_this_mail: bool = False


class HandOverFailed(LetterNotTaken):
    """Raised by a mail backend that knows how far it got."""

    def __init__(self, handed: Handed) -> None:
        super().__init__(handed.reason)
        self.handed = handed
