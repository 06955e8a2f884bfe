"""What people do on the way to a consent, and away from it again."""

from whitening.consent.actions.deposits import MoreThanHeld, NoQuote, ReasonWanted, record_deposit
from whitening.consent.actions.ending import AlreadyWithdrawn, NothingToWithdraw, SignedAnew, withdraw
from whitening.consent.actions.photographs import NotAllowedAnyway, choose_photographs, take_back_photographs
from whitening.consent.actions.signing import (
    CannotSign,
    CountersignedAlready,
    NothingToCountersign,
    SignatureInput,
    countersign,
    frozen_text,
    sign,
    why_not_now,
)
from whitening.consent.actions.talking import ChildInterpreter, InterpreterWanted, NoPlan, TalkDetails, record_talk

__all__ = [
    "AlreadyWithdrawn",
    "CannotSign",
    "ChildInterpreter",
    "CountersignedAlready",
    "InterpreterWanted",
    "MoreThanHeld",
    "NoPlan",
    "NoQuote",
    "NotAllowedAnyway",
    "NothingToCountersign",
    "NothingToWithdraw",
    "ReasonWanted",
    "SignatureInput",
    "SignedAnew",
    "TalkDetails",
    "choose_photographs",
    "countersign",
    "frozen_text",
    "record_deposit",
    "record_talk",
    "sign",
    "take_back_photographs",
    "why_not_now",
    "withdraw",
]
