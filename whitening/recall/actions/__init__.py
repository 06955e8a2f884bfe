"""What people and the clock do after a session."""

from whitening.recall.actions.calls import (
    AlreadyClosed,
    CalledMeanwhile,
    NeedsWords,
    TakenAlready,
    close_escalation,
    log_attempt,
    take_escalation,
)
from whitening.recall.actions.owning import CannotOwn, NeedsAReason, hand_on, hand_on_answer
from whitening.recall.actions.planning import follow_late, plan_after_session
from whitening.recall.actions.recalling import answer as answer_recall
from whitening.recall.actions.recalling import booked_back, may_answer, next_visit
from whitening.recall.actions.replying import cannot_wait, grade, record_reply, type_reply
from whitening.recall.actions.reviewing import (
    NothingToReview,
    ReviewDetails,
    ReviewedAlready,
    TooEarlyToReview,
    record_review,
    reviewable,
)
from whitening.recall.actions.ticking import tick
from whitening.recall.actions.views import TooManyViews, ViewNeedsAName, delete_view, keep_view

__all__ = [
    "AlreadyClosed",
    "CalledMeanwhile",
    "CannotOwn",
    "NeedsAReason",
    "NeedsWords",
    "NothingToReview",
    "ReviewDetails",
    "ReviewedAlready",
    "TakenAlready",
    "TooEarlyToReview",
    "TooManyViews",
    "ViewNeedsAName",
    "answer_recall",
    "booked_back",
    "cannot_wait",
    "close_escalation",
    "delete_view",
    "follow_late",
    "grade",
    "hand_on",
    "hand_on_answer",
    "keep_view",
    "log_attempt",
    "may_answer",
    "next_visit",
    "plan_after_session",
    "record_reply",
    "record_review",
    "reviewable",
    "take_escalation",
    "tick",
    "type_reply",
]
