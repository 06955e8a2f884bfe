from whitening.recall.models.followups import (
    Attempt,
    AttemptResult,
    FollowUp,
    FollowUpKind,
    FollowUpQuerySet,
    FollowUpState,
)
from whitening.recall.models.replies import Escalation, Raising, Reply, Urgency
from whitening.recall.models.reviews import Review, ReviewDecision, Satisfaction

__all__ = [
    "Attempt",
    "AttemptResult",
    "Escalation",
    "FollowUp",
    "FollowUpKind",
    "FollowUpQuerySet",
    "FollowUpState",
    "Raising",
    "Reply",
    "Review",
    "ReviewDecision",
    "Satisfaction",
    "Urgency",
]
