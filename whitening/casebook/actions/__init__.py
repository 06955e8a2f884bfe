"""What people do with a case that reaches over several rooms."""

from whitening.casebook.actions.ending import SessionStillRuns, end_case
from whitening.casebook.actions.visits import (
    NoSuchVisitType,
    NotAgreedYet,
    PlanNeedsAnotherTime,
    VisitWish,
    book_visit,
    confirm_pencilled,
    wanted_for,
)

__all__ = [
    "NoSuchVisitType",
    "NotAgreedYet",
    "PlanNeedsAnotherTime",
    "SessionStillRuns",
    "VisitWish",
    "book_visit",
    "confirm_pencilled",
    "end_case",
    "wanted_for",
]
