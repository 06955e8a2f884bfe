"""Forms of the clinician and of whoever asks at the practice."""

from whitening.screening.forms.asking import AskForm
from whitening.screening.forms.deciding import DecisionForm, ReaskDecisionForm
from whitening.screening.forms.examining import ExaminationForm
from whitening.screening.forms.letters import LetterForm
from whitening.screening.forms.local_rules import LocalRuleForm
from whitening.screening.forms.planning import PlanForm

__all__ = [
    "AskForm",
    "DecisionForm",
    "ExaminationForm",
    "LetterForm",
    "LocalRuleForm",
    "PlanForm",
    "ReaskDecisionForm",
]
