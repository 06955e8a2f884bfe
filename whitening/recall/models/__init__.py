from whitening.recall.models.followups import (
    OPEN,
    Attempt,
    AttemptResult,
    FollowUp,
    FollowUpKind,
    FollowUpQuerySet,
    FollowUpState,
)
from whitening.recall.models.recalls import (
    OPEN_RECALL,
    Recall,
    RecallAnswer,
    RecallKind,
    RecallQuerySet,
    RecallState,
)
from whitening.recall.models.replies import Escalation, Raising, Reply, Urgency
from whitening.recall.models.reviews import Review, ReviewDecision, Satisfaction
from whitening.recall.models.views import SavedView

__all__ = [
    "OPEN",
    "OPEN_RECALL",
    "Attempt",
    "AttemptResult",
    "Escalation",
    "FollowUp",
    "FollowUpKind",
    "FollowUpQuerySet",
    "FollowUpState",
    "Raising",
    "Recall",
    "RecallAnswer",
    "RecallKind",
    "RecallQuerySet",
    "RecallState",
    "Reply",
    "Review",
    "ReviewDecision",
    "Satisfaction",
    "SavedView",
    "Urgency",
]
