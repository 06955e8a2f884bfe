"""The day's re-ask: writes what was shown and said, and lays what changed over the answers, to be graded again."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case
from whitening.screening.actions.answering import keep_answers
from whitening.screening.models import Reask, Source
from whitening.screening.reading import answers_of
from whitening.screening.reask import ReaskResult, apply_reask, check_reask, reask_items


class NothingToAskAgain(Refusal):
    code = "screening.nothing_to_ask_again"
    sentence = _("There are no answers to go through yet. Ask the health questions first.")


class NotAllAnswered(Refusal):
    code = "screening.reask_not_all_answered"
    sentence = _("Each item needs an answer today, also where nothing has changed.")


def ask_again(
    *, case: Case, shown: Sequence[str], replies: Mapping[str, str], user: User, actor: Actor, now: datetime
) -> tuple[Reask, ReaskResult]:
    """Raises NothingToAskAgain or NotAllAnswered; else the row and what changed."""
    require(user, Capability.REASK, case.site)
    answers = answers_of(case)
    if answers is None:
        raise NothingToAskAgain
    result = check_reask(items=reask_items(answers), shown=shown, replies=replies)
    if not result.complete:
        raise NotAllAnswered
    asked_on = now.astimezone(case.site.zone).date()
    with transaction.atomic():
        row = Reask.objects.create(
            case=case,
            asked_on=asked_on,
            shown=list(shown),
            replies=dict(replies),
            changed=[item.id for item in result.changed],
            asked_at=now,
            asked_by=actor.name,
        )
        newer = apply_reask(answers=answers, result=result, asked_at=now, asked_on=asked_on)
        keep_answers(case=case, answers=newer, source=Source.CHAIR, language="", actor=actor, now=now)
        record(
            verb="screening.asked_again",
            actor=actor,
            subject=("case", case.pk),
            patient_id=case.patient_id,
            site_id=case.site_id,
            values={"replies": dict(replies), "changed": row.changed},
        )
    return row, result
