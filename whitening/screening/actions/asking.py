"""Staff ask what is still open: read out on the telephone, copied from paper, or said face to face."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.cases.actions import hold_open
from whitening.cases.models import Case
from whitening.screening.actions.answering import keep_answers
from whitening.screening.facts import Answer, Answers, AnswerValue
from whitening.screening.models import AnswerSet, Source
from whitening.screening.questions import in_private, open_questions, questionnaire
from whitening.screening.reading import answers_of


class NothingAnswered(Refusal):
    code = "screening.nothing_answered"
    sentence = _("No question was answered. Pick at least one answer, or go back without recording.")


class NotOpen(Refusal):
    code = "screening.question_not_open"
    sentence = _("One of these questions was answered in the meantime. Reload the page to see what is still open.")


def answer_here(
    *, case: Case, values: Mapping[str, AnswerValue], source: Source, user: User, actor: Actor, now: datetime
) -> AnswerSet:
    """Lays the answers over those that stand, as a new set. Raises NothingAnswered, NotOpen, CaseClosed.

    What is asked face to face is a clinician's to ask.
    """
    require(user, Capability.REASK, case.site)
    if not values:
        raise NothingAnswered
    today = now.astimezone(case.site.zone).date()
    with transaction.atomic():
        held = answers_of(hold_open(case)) or Answers(questionnaire().version)
        # Only what is open: an answer of the patient is never written over here.
        still_open = open_questions(held=held.values, said=values)
        if set(values) - {question.id for question in still_open}:
            raise NotOpen
        if any(question.id in values and in_private(question, held.values) for question in still_open):
            require(user, Capability.EXAMINE_AND_DECIDE, case.site)
        newer = {name: Answer(value, now, today) for name, value in values.items()}
        return keep_answers(
            case=case, answers=held.changed(newer=newer), source=source, language="", actor=actor, now=now
        )
