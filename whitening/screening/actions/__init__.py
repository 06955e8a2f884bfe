"""What people do around the questions, the examination, the decisions and the plan."""

from whitening.screening.actions.answering import NotComplete, hand_in, keep_answer, mark_read_ahead
from whitening.screening.actions.deciding import DecisionNotPossible, decide
from whitening.screening.actions.examining import examine
from whitening.screening.actions.planning import PlanDetails, PlanNotAllowed, make_plan
from whitening.screening.actions.reasking import ask_again

__all__ = [
    "DecisionNotPossible",
    "NotComplete",
    "PlanDetails",
    "PlanNotAllowed",
    "ask_again",
    "decide",
    "examine",
    "hand_in",
    "keep_answer",
    "make_plan",
    "mark_read_ahead",
]
