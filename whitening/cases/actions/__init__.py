"""What people do with a case as a whole."""

from whitening.cases.actions.consultations import into_the_chair
from whitening.cases.actions.deferring import NotAhead, NotPutOff, PutOffMeanwhile, lift, put_off
from whitening.cases.actions.life import (
    AlreadyOpen,
    CaseClosed,
    TooYoung,
    add_visit,
    close_case,
    hold_open,
    number_visit,
    open_again,
    open_case,
)
from whitening.cases.actions.shades import UnknownTab, correct_shade, read_shade

__all__ = [
    "AlreadyOpen",
    "CaseClosed",
    "NotAhead",
    "NotPutOff",
    "PutOffMeanwhile",
    "TooYoung",
    "UnknownTab",
    "add_visit",
    "close_case",
    "correct_shade",
    "hold_open",
    "into_the_chair",
    "lift",
    "number_visit",
    "open_again",
    "open_case",
    "put_off",
    "read_shade",
]
