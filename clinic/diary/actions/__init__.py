"""What people do in the diary: one function per deed."""

from clinic.diary.actions.booking import BookingRequest, book, move, refit
from clinic.diary.actions.life import (
    CANCELLABLE,
    arrive,
    cancel,
    check_in,
    confirm,
    finish,
    lapse_due,
    no_show,
    take_back,
)
from clinic.diary.actions.putting import put
from clinic.diary.actions.telling import send_page_again
from clinic.diary.models import MOVABLE
from clinic.diary.refusals import InThePast, NotPossibleNow, OutsideOpeningHours, PatientBusy, SlotTaken

__all__ = [
    "CANCELLABLE",
    "MOVABLE",
    "BookingRequest",
    "InThePast",
    "NotPossibleNow",
    "OutsideOpeningHours",
    "PatientBusy",
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
    "put",
    "refit",
    "send_page_again",
    "take_back",
]
