from clinic.messages.models.calls import Call, Outcome, Why
from clinic.messages.models.due import ASTRAY, OPEN_STATES, DueMessage, State
from clinic.messages.models.links import TRIES, Ended, LinkVisit, PrivateLink
from clinic.messages.models.pulse import Heartbeat

__all__ = [
    "ASTRAY",
    "OPEN_STATES",
    "TRIES",
    "Call",
    "DueMessage",
    "Ended",
    "Heartbeat",
    "LinkVisit",
    "Outcome",
    "PrivateLink",
    "State",
    "Why",
]
