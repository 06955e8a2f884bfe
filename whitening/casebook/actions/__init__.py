"""What people do with a case that reaches over several rooms."""

from whitening.casebook.actions.courses import (
    CourseStands,
    OutOfStep,
    book_course,
    book_held_course,
    hold_course,
    let_course_go,
)
from whitening.casebook.actions.ending import SessionStillRuns, end_case
from whitening.casebook.actions.inviting import AllHaveTheirTime, invite_to_pick
from whitening.casebook.actions.visits import (
    NotAgreedYet,
    PlanNeedsAnotherTime,
    VisitWish,
    book_visit,
    confirm_all_pencilled,
    confirm_pencilled,
    hold_visit,
)
from whitening.casebook.wanting import NoSuchVisitType, wanted_for

__all__ = [
    "AllHaveTheirTime",
    "CourseStands",
    "NoSuchVisitType",
    "NotAgreedYet",
    "OutOfStep",
    "PlanNeedsAnotherTime",
    "SessionStillRuns",
    "VisitWish",
    "book_course",
    "book_held_course",
    "book_visit",
    "confirm_all_pencilled",
    "confirm_pencilled",
    "end_case",
    "hold_course",
    "hold_visit",
    "invite_to_pick",
    "let_course_go",
    "wanted_for",
]
