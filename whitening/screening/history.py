"""What was known when: the findings from the rows of one moment, by the rules as they are today."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, Plan
from whitening.screening.models import AnswerSet, Decision, ExaminationRecord, LetterReply
from whitening.screening.outcome import Outcome
from whitening.screening.reading import newest_answers, newest_examination, outcome_of
from whitening.screening.signed import of_the_body


@dataclass(frozen=True, slots=True)
class Moment:
    """One instant at which something became known, with all that did."""

    at: datetime
    happened: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Known:
    """What stood in the records then. Nothing of it depends on a later row."""

    answers: AnswerSet | None
    examination: ExaminationRecord | None
    plan: Plan | None
    outcome: Outcome


def moments(case: Case) -> list[Moment]:
    """In order of time. Six queries."""
    happened = sorted(_happened(case))
    return [
        Moment(at, tuple(words for _at, words in together))
        for at, together in groupby(happened, key=lambda one: one[0])
    ]


def _happened(case: Case) -> Iterable[tuple[datetime, str]]:
    for given in case.answer_sets.all():
        yield given.handed_in_at, _("Answers: %(how)s") % {"how": given.get_source_display()}
    for seen in case.examinations.select_related("examined_by"):
        yield seen.examined_at, _("Examination by %(name)s") % {"name": seen.examined_by.name}
    for made in case.decisions.select_related("decided_by"):
        yield made.decided_at, _("Decision by %(name)s") % {"name": made.decided_by.name}
    for letter in case.letters.select_related("written_by"):
        about = {"name": letter.addressed_to, "by": letter.written_by.name}
        yield letter.written_at, _("Letter to %(name)s, by %(by)s") % about
    for reply in LetterReply.objects.filter(letter__case=case).select_related("paper", "letter"):
        about = {"name": reply.paper.sender, "to": reply.letter.addressed_to}
        yield reply.attached_at, _("Answer of %(name)s to the letter to %(to)s filed") % about
    for plan in case.plans.select_related("planned_by"):
        yield (
            plan.planned_at,
            _("Plan %(version)d by %(name)s") % {"version": plan.version, "name": plan.planned_by.name},
        )


def known_at(case: Case, at: datetime) -> Known:
    """Five queries. Local rules and consent are no part of it: they are asked on the day of treatment."""
    then = Case.objects.select_related("patient", "site").prefetch_related(*_rows_until(at)).get(pk=case.pk)
    return Known(
        answers=newest_answers(then),
        examination=newest_examination(then),
        plan=plan_in_force(then),
        outcome=of_the_body(outcome_of(then, today=at.astimezone(case.site.zone).date())),
    )


def _rows_until(at: datetime) -> Iterable[Prefetch[Any]]:
    """A case read together with its rows is judged by these alone."""
    yield Prefetch("answer_sets", AnswerSet.objects.filter(handed_in_at__lte=at))
    yield Prefetch("examinations", ExaminationRecord.objects.filter(examined_at__lte=at).select_related("examined_by"))
    yield Prefetch("decisions", Decision.objects.filter(decided_at__lte=at).select_related("decided_by"))
    plans = Plan.objects.filter(planned_at__lte=at).select_related("product", "planned_by", "prescribed_by")
    yield Prefetch("plans", plans)
