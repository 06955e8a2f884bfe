"""Answering at home or here: a draft that can be left and resumed, then handed in once and kept for good."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
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


def draft_of(case: Case, *, now: datetime) -> AnswerDraft:
    """What has been answered so far; an unsaved, empty one at the first visit, so that a GET writes nothing."""
    found = AnswerDraft.objects.filter(case=case).first()
    return found or AnswerDraft(case=case, questionnaire=questionnaire().version, values={}, changed_at=now)


def keep_answer(*, case: Case, question: Question, raw: Sequence[str], now: datetime) -> AnswerDraft:
    """Keeps one answer in the draft. Answers to questions that no longer apply are dropped. Raises AnswerRefused."""
    today = now.astimezone(case.site.zone).date()
    value = read_answer(question=question, raw=raw, today=today)
    with transaction.atomic():
        draft = AnswerDraft.objects.select_for_update().filter(case=case).first() or draft_of(case, now=now)
        values = answering.from_data(draft.values) | {question.id: value}
        applying = {one.id for one in questionnaire().questions if one.applies(values)}
        draft.values = answering.to_data({name: kept for name, kept in values.items() if name in applying})
        draft.questionnaire, draft.changed_at = questionnaire().version, now
        draft.save()
    return draft


def mark_read_ahead(*, case: Case, now: datetime) -> AnswerDraft:
    with transaction.atomic():
        draft = AnswerDraft.objects.select_for_update().filter(case=case).first() or draft_of(case, now=now)
        draft.read_ahead, draft.changed_at = True, now
        draft.save()
    return draft


def hand_in(*, case: Case, source: Source, language: str, actor: Actor, now: datetime) -> AnswerSet:
    """Turns the draft into answers that never change. Raises NotComplete while a question is open."""
    given_on = now.astimezone(case.site.zone).date()
    with transaction.atomic():
        draft = AnswerDraft.objects.select_for_update().filter(case=case).first()
        values = answering.from_data(draft.values) if draft else {}
        if draft is None or next_question(values) is not None:
            raise NotComplete
        given = Answers.on_day(version=draft.questionnaire, values=values, given_at=now, given_on=given_on)
        row = keep_answers(case=case, answers=given, source=source, language=language, actor=actor, now=now)
        draft.values = {}
        draft.save(update_fields=["values"])
    return row


def keep_answers(
    *, case: Case, answers: Answers, source: Source, language: str, actor: Actor, now: datetime
) -> AnswerSet:
    """Writes a whole set, in the caller's transaction; earlier sets stay as they were."""
    row = AnswerSet.objects.create(
        case=case,
        questionnaire=answers.version,
        language=language,
        source=source,
        values=given_to_data(answers.given),
        given_on=now.astimezone(case.site.zone).date(),
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
