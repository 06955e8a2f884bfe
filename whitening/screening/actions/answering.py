"""Answering at home or here: a draft that can be left and resumed, then handed in once and kept for good."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.actions import hold_open
from whitening.cases.models import Case
from whitening.screening import answers as answering
from whitening.screening.answers import read_answer
from whitening.screening.facts import Answers
from whitening.screening.models import AnswerDraft, AnswerSet, Source
from whitening.screening.questions import Question, next_question, questionnaire
from whitening.screening.reading import given_to_data


class NotComplete(Refusal):
    code = "screening.not_complete"
    sentence = _("Some questions have no answer yet. Answer them first; if you are not sure, say so.")


class HandedInAlready(Refusal):
    code = "screening.handed_in_already"
    sentence = _("These answers are handed in already. Tell us if something has changed since.")


def draft_of(case: Case, *, now: datetime) -> AnswerDraft:
    """What has been answered so far; an unsaved, empty one at the first visit, so that a GET writes nothing."""
    found = AnswerDraft.objects.filter(case=case).first()
    return found or AnswerDraft(case=case, questionnaire=questionnaire().version, values={}, changed_at=now)


def keep_answer(
    *, case: Case, question: Question, raw: Sequence[str], now: datetime, visit: int | None = None
) -> AnswerDraft:
    """Keeps one answer in the draft, and in which private visit it was given (see AnswerDraft.given_in).

    Answers to questions that no longer apply are dropped. Raises AnswerRefused or CaseClosed.
    """
    today = now.astimezone(case.site.zone).date()
    value = read_answer(question=question, raw=raw, today=today)
    with transaction.atomic():
        hold_open(case)
        draft = draft_of(case, now=now)
        values = answering.from_data(draft.values) | {question.id: value}
        applying = {one.id for one in questionnaire().questions if one.applies(values)}
        draft.values = answering.to_data({name: kept for name, kept in values.items() if name in applying})
        given_in = draft.given_in | {question.id: visit}
        draft.given_in = {name: number for name, number in given_in.items() if name in draft.values}
        draft.questionnaire, draft.changed_at = questionnaire().version, now
        draft.save()
    return draft


def mark_read_ahead(*, case: Case, now: datetime) -> AnswerDraft:
    with transaction.atomic():
        hold_open(case)
        draft = draft_of(case, now=now)
        draft.read_ahead, draft.changed_at = True, now
        draft.save()
    return draft


def hand_in(*, case: Case, source: Source, language: str, actor: Actor, now: datetime) -> AnswerSet:
    """Turns the draft into answers that never change. Raises NotComplete, HandedInAlready or CaseClosed."""
    given_on = now.astimezone(case.site.zone).date()
    with transaction.atomic():
        held = hold_open(case)
        draft = draft_of(held, now=now)
        values = answering.from_data(draft.values)
        # A second press comes after the draft was emptied: nothing is missing then, it is done.
        if not values and held.answer_sets.exists():
            raise HandedInAlready
        if next_question(values) is not None:
            raise NotComplete
        given = Answers.on_day(version=draft.questionnaire, values=values, given_at=now, given_on=given_on)
        row = keep_answers(case=case, answers=given, source=source, language=language, actor=actor, now=now)
        draft.values, draft.given_in = {}, {}
        draft.save(update_fields=["values", "given_in"])
    return row


def keep_answers(
    *, case: Case, answers: Answers, source: Source, language: str, actor: Actor, now: datetime
) -> AnswerSet:
    """Writes a whole set, in the caller's transaction; earlier sets stay as they were."""
    today = now.astimezone(case.site.zone).date()
    row = AnswerSet.objects.create(
        case=case,
        questionnaire=answers.version,
        language=language,
        source=source,
        values=given_to_data(answers.given),
        given_on=min((answer.given_on for answer in answers.given.values()), default=today),
        handed_in_at=now,
        handed_in_by=actor.name,
    )
    record(
        verb="screening.answered",
        actor=actor,
        subject=("case", case.pk),
        patient_id=case.patient_id,
        site_id=case.site_id,
        values={"answers": row.values, "source": str(source), "questionnaire": answers.version},
    )
    return row
