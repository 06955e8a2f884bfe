from clinic.messages.models.calls import BY_CALL, Call, Outcome, Why
from clinic.messages.models.due import ASTRAY, OPEN_STATES, DueMessage, Held, State
from clinic.messages.models.letters import LetterBatch
from clinic.messages.models.links import TRIES, Ended, LinkVisit, PrivateLink
from clinic.messages.models.pulse import Heartbeat, TroubleMail
from clinic.messages.models.replies import ReplyRule, TextReplies
from clinic.messages.models.wordings import Wording

__all__ = [
    "ASTRAY",
    "BY_CALL",
    "OPEN_STATES",
    "TRIES",
    "Call",
    "DueMessage",
    "Ended",
    "Heartbeat",
    "Held",
    "LetterBatch",
    "LinkVisit",
    "Outcome",
    "PrivateLink",
    "ReplyRule",
    "State",
    "TextReplies",
    "TroubleMail",
    "Why",
    "Wording",
]
