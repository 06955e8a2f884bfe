"""What people do around the questions, the examination, the decisions and the plan."""

from whitening.screening.actions.answering import HandedInAlready, NotComplete, hand_in, keep_answer, mark_read_ahead
from whitening.screening.actions.asking import answer_here
from whitening.screening.actions.deciding import DecisionNotPossible, PaperNotRead, decide
from whitening.screening.actions.examining import examine
from whitening.screening.actions.letters import (
    LetterDetails,
    NoLetterHere,
    NoReply,
    PatientNotAsked,
    ReplyTooOld,
    attach_reply,
    write_letter,
)
from whitening.screening.actions.local_rules import LocalRuleNotKept, OwnRuleDetails, change_local_rule
from whitening.screening.actions.planning import PlanChanged, PlanDetails, PlanForbidden, PlanNotAllowed, make_plan
from whitening.screening.actions.reasking import ask_again, decide_reask
from whitening.screening.actions.signing import NotAllKnown, OutcomeChanged, sign_assessment

__all__ = [
    "DecisionNotPossible",
    "HandedInAlready",
    "LetterDetails",
    "LocalRuleNotKept",
    "NoLetterHere",
    "NoReply",
    "NotAllKnown",
    "NotComplete",
    "OutcomeChanged",
    "OwnRuleDetails",
    "PaperNotRead",
    "PatientNotAsked",
    "PlanChanged",
    "PlanDetails",
    "PlanForbidden",
    "PlanNotAllowed",
    "ReplyTooOld",
    "answer_here",
    "ask_again",
    "attach_reply",
    "change_local_rule",
    "decide",
    "decide_reask",
    "examine",
    "hand_in",
    "keep_answer",
    "make_plan",
    "mark_read_ahead",
    "sign_assessment",
    "write_letter",
]
