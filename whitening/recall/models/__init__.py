from whitening.recall.models.followups import (
    OPEN,
    Attempt,
    AttemptResult,
    FollowUp,
    FollowUpKind,
    FollowUpQuerySet,
    FollowUpState,
)
from whitening.recall.models.replies import Escalation, Raising, Reply, Urgency
from whitening.recall.models.reviews import Review, ReviewDecision, Satisfaction
from whitening.recall.models.views import SavedView

__all__ = [
    "OPEN",
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
    "SavedView",
    "Urgency",
]
