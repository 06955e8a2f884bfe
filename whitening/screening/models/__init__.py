from whitening.screening.models.answers import AnswerDraft, AnswerSet, Source
from whitening.screening.models.decisions import Decision, DecisionSort
from whitening.screening.models.examinations import ExaminationRecord
from whitening.screening.models.letters import Letter, LetterReply
from whitening.screening.models.local_rules import LocalRuleChange
from whitening.screening.models.readings import AssessmentSignature
from whitening.screening.models.reasks import Reask, ReaskDecision

__all__ = [
    "AnswerDraft",
    "AnswerSet",
    "AssessmentSignature",
    "Decision",
    "DecisionSort",
    "ExaminationRecord",
    "Letter",
    "LetterReply",
    "LocalRuleChange",
    "Reask",
    "ReaskDecision",
    "Source",
]
