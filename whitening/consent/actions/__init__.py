"""What people do on the way to a consent, and away from it again."""

from whitening.consent.actions.ending import AlreadyWithdrawn, NothingToWithdraw, withdraw
from whitening.consent.actions.photographs import choose_photographs
from whitening.consent.actions.signing import (
    CannotSign,
    CountersignedAlready,
    SignatureInput,
    countersign,
    frozen_text,
    sign,
)
from whitening.consent.actions.talking import ChildInterpreter, TalkDetails, record_talk

__all__ = [
    "AlreadyWithdrawn",
    "CannotSign",
    "ChildInterpreter",
    "CountersignedAlready",
    "NothingToWithdraw",
    "SignatureInput",
    "TalkDetails",
    "choose_photographs",
    "countersign",
    "frozen_text",
    "record_talk",
    "sign",
    "withdraw",
]
