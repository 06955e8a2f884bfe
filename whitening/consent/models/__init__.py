from whitening.consent.models.deposits import Deposit, DepositStep
from whitening.consent.models.interpreting import InterpreterSignature
from whitening.consent.models.papers import PaperCheck, PaperReading, PaperWithdrawal
from whitening.consent.models.photographs import PhotoChoice, PhotoUse
from whitening.consent.models.quotes import Quote
from whitening.consent.models.signing import Countersignature, Signature, SignedBy, Withdrawal
from whitening.consent.models.talks import InterpreterKind, Talk
from whitening.consent.models.texts import ConsentText
from whitening.consent.models.wordings import OwnWording, TranslationCheck, WordingUse

__all__ = [
    "ConsentText",
    "Countersignature",
    "Deposit",
    "DepositStep",
    "InterpreterKind",
    "InterpreterSignature",
    "OwnWording",
    "PaperCheck",
    "PaperReading",
    "PaperWithdrawal",
    "PhotoChoice",
    "PhotoUse",
    "Quote",
    "Signature",
    "SignedBy",
    "Talk",
    "TranslationCheck",
    "Withdrawal",
    "WordingUse",
]
