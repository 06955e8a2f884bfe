"""What people and the clock do after a session."""

from whitening.recall.actions.calls import AlreadyClosed, NeedsWords, close_escalation, log_attempt
from whitening.recall.actions.planning import plan_after_session
from whitening.recall.actions.replying import record_reply
from whitening.recall.actions.reviewing import ReviewDetails, ReviewedAlready, record_review
from whitening.recall.actions.ticking import tick

__all__ = [
    "AlreadyClosed",
    "NeedsWords",
    "ReviewDetails",
    "ReviewedAlready",
    "close_escalation",
    "log_attempt",
    "plan_after_session",
    "record_reply",
    "record_review",
    "tick",
]
