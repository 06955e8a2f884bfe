"""What people do on the way to a consent, and away from it again."""

from whitening.consent.actions.countersigning import (
    CountersignedAlready,
    InterpreterFirst,
    NothingToCountersign,
    countersign,
)
from whitening.consent.actions.deposits import MoreThanHeld, NoQuote, ReasonWanted, record_deposit
from whitening.consent.actions.ending import AlreadyWithdrawn, NothingToWithdraw, SignedAnew, withdraw
from whitening.consent.actions.interpreting import (
    InterpreterCannotSign,
    InterpreterInput,
    InterpreterSigned,
    NobodyInterpreted,
    interpreter_signs,
    text_to_interpret,
)
from whitening.consent.actions.on_paper import (
    CheckedAlready,
    PaperNotUsable,
    PaperSaid,
    SamePerson,
    SayWhatDiffers,
    check_paper,
    read_paper,
)
from whitening.consent.actions.photographs import NotAllowedAnyway, choose_photographs, take_back_photographs
from whitening.consent.actions.printing import forms_of, print_blank, print_form
from whitening.consent.actions.signing import CannotSign, SignatureInput, frozen_text, sign, why_not_now
from whitening.consent.actions.talking import (
    ChildInterpreter,
    InterpreterWanted,
    LanguageNotReady,
    NoPlan,
    TalkDetails,
    record_talk,
)
from whitening.consent.actions.translations import (
    CheckDetails,
    CheckedTooEarly,
    CheckIncomplete,
    NoTranslation,
    record_check,
)
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
    "CheckedAlready",
    "CheckedTooEarly",
    "ChildInterpreter",
    "CountersignedAlready",
    "InUseAlready",
    "InterpreterCannotSign",
    "InterpreterFirst",
    "InterpreterInput",
    "InterpreterSigned",
    "InterpreterWanted",
    "LanguageNotReady",
    "MoreThanHeld",
    "NoPlan",
    "NoQuote",
    "NoTranslation",
    "NobodyInterpreted",
    "NotAllowedAnyway",
    "NotChecked",
    "NothingToCountersign",
    "NothingToWithdraw",
    "PaperNotUsable",
    "PaperSaid",
    "ReasonWanted",
    "SamePerson",
    "SameWords",
    "SayWhatDiffers",
    "SignatureInput",
    "SignedAnew",
    "TalkDetails",
    "UsedMeanwhile",
    "WordingNotKept",
    "WordingUnknown",
    "check_paper",
    "choose_photographs",
    "countersign",
    "forms_of",
    "frozen_text",
    "interpreter_signs",
    "print_blank",
    "print_form",
    "read_paper",
    "record_check",
    "record_deposit",
    "record_talk",
    "sign",
    "take_back_photographs",
    "take_into_use",
    "text_to_interpret",
    "why_not_now",
    "withdraw",
    "write_wording",
]
