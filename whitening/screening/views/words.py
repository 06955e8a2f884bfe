"""An answer as the patient gave it, in words."""

from datetime import date

from django.utils.translation import gettext as _

from clinic.accounts.dates import day_words
from whitening.screening.facts import AnswerValue
from whitening.screening.questions import Question


def answer_words(asked: Question, value: AnswerValue | None) -> str:
    if value is None:
        return _("no answer yet")
    if isinstance(value, tuple):
        named = dict(asked.choices)
        return ", ".join(str(named.get(one, one)) for one in value) or str(asked.none or _("none"))
    if isinstance(value, date):
        return day_words(value)
    return str(dict(asked.choices).get(str(value), value))
