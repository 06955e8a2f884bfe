"""What people do in the diary: one function per deed."""

from clinic.diary.actions.booking import (
    BookingRequest,
    OutsideOpeningHours,
    SlotTaken,
    book,
    move,
    refit,
)
from clinic.diary.actions.life import (
    NotPossibleNow,
    arrive,
    cancel,
    check_in,
    confirm,
    finish,
    lapse_due,
    no_show,
)

__all__ = [
    "BookingRequest",
    "NotPossibleNow",
    "OutsideOpeningHours",
    "SlotTaken",
    "arrive",
    "book",
    "cancel",
    "check_in",
    "confirm",
    "finish",
    "lapse_due",
    "move",
    "no_show",
    "refit",
]
