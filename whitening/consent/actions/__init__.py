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
from whitening.consent.actions.talking import (
    ChildInterpreter,
    InterpreterWanted,
    LanguageNotReady,
    NoPlan,
    TalkDetails,
    record_talk,
)
from whitening.consent.actions.translations import CheckDetails, CheckIncomplete, NoTranslation, record_check
from whitening.consent.actions.wordings import (
    InUseAlready,
    NotChecked,
    SameWords,
    UsedMeanwhile,
    WordingNotKept,
    WordingUnknown,
    take_into_use,
    write_wording,
)

__all__ = [
    "AlreadyWithdrawn",
    "CannotSign",
    "CheckDetails",
    "CheckIncomplete",
    "ChildInterpreter",
    "CountersignedAlready",
    "InUseAlready",
    "InterpreterWanted",
    "LanguageNotReady",
    "MoreThanHeld",
    "NoPlan",
    "NoQuote",
    "NoTranslation",
    "NotAllowedAnyway",
    "NotChecked",
    "NothingToCountersign",
    "NothingToWithdraw",
    "ReasonWanted",
    "SameWords",
    "SignatureInput",
    "SignedAnew",
    "TalkDetails",
    "UsedMeanwhile",
    "WordingNotKept",
    "WordingUnknown",
    "choose_photographs",
    "countersign",
    "frozen_text",
    "record_check",
    "record_deposit",
    "record_talk",
    "sign",
    "take_back_photographs",
    "take_into_use",
    "why_not_now",
    "withdraw",
    "write_wording",
]
