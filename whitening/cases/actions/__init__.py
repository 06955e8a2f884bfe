"""What people do with a case as a whole."""

from whitening.cases.actions.consultations import into_the_chair
from whitening.cases.actions.life import (
    AlreadyOpen,
    CaseClosed,
    TooYoung,
    add_visit,
    close_case,
    hold_open,
    open_case,
)
from whitening.cases.actions.shades import UnknownTab, read_shade

__all__ = [
    "AlreadyOpen",
    "CaseClosed",
    "TooYoung",
    "UnknownTab",
    "add_visit",
    "close_case",
    "hold_open",
    "into_the_chair",
    "open_case",
    "read_shade",
]
