"""What people do in the diary: one function per deed."""

from clinic.diary.actions.alone import book_alone, hold_alone
from clinic.diary.actions.booking import HOLD_FOR, BookingRequest, book, hold, move, refit
from clinic.diary.actions.calendars import make_calendar, take_back_calendar
from clinic.diary.actions.following_clocks import keep_clock_times
from clinic.diary.actions.holding import book_held, end_holds_due, let_go
from clinic.diary.actions.inviting import booked_since, invite, pick
from clinic.diary.actions.inviting import take_back as take_invitation_back
from clinic.diary.actions.late import (
    LATE_CAN_BEGIN,
    answer_about_late,
    ask_about_late,
    begin_late,
    comes_another_time,
)
from clinic.diary.actions.life import (
    CANCELLABLE,
    arrive,
    cancel,
    check_in,
    check_pencilled,
    confirm,
    finish,
    give_up,
    hear_that_they_come,
    lapse_due,
    no_show,
    note_why,
)
from clinic.diary.actions.placing import one_at_a_time
from clinic.diary.actions.putting import put
from clinic.diary.actions.selfservice import cancel_visit, keep_visit, move_visit
from clinic.diary.actions.telling import send_page_again
from clinic.diary.actions.undoing import TAKEN_BACK, can_take_back, take_back
from clinic.diary.actions.walking_in import WAIT_AT_MOST, walk_in
from clinic.diary.models import MOVABLE
from clinic.diary.refusals import (
    HeldByAnother,
    HoldEnded,
    InThePast,
    NotPossibleNow,
    NotYoursToTakeBack,
    OutsideOpeningHours,
    PatientBusy,
    PencilEnded,
    SlotTaken,
)

__all__ = [
    "CANCELLABLE",
    "HOLD_FOR",
    "LATE_CAN_BEGIN",
    "MOVABLE",
    "TAKEN_BACK",
    "WAIT_AT_MOST",
    "BookingRequest",
    "HeldByAnother",
    "HoldEnded",
    "InThePast",
    "NotPossibleNow",
    "NotYoursToTakeBack",
    "OutsideOpeningHours",
    "PatientBusy",
    "PencilEnded",
    "SlotTaken",
    "answer_about_late",
    "arrive",
    "ask_about_late",
    "begin_late",
    "book",
    "book_alone",
    "book_held",
    "booked_since",
    "can_take_back",
    "cancel",
    "cancel_visit",
    "check_in",
    "check_pencilled",
    "comes_another_time",
    "confirm",
    "end_holds_due",
    "finish",
    "give_up",
    "hear_that_they_come",
    "hold",
    "hold_alone",
    "invite",
    "keep_clock_times",
    "keep_visit",
    "lapse_due",
    "let_go",
    "make_calendar",
    "move",
    "move_visit",
    "no_show",
    "note_why",
    "one_at_a_time",
    "pick",
    "put",
    "refit",
    "send_page_again",
    "take_back",
    "take_back_calendar",
    "take_invitation_back",
    "walk_in",
]
