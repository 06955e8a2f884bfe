"""The day's re-ask: writes what was shown and said, and lays what changed over the answers, to be graded again."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require, require_in_date
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.actions import hold_open
from whitening.cases.models import Case
from whitening.screening import running
from whitening.screening.actions.answering import keep_answers
from whitening.screening.models import Reask, ReaskDecision, Source
from whitening.screening.reading import answers_of, newest_reask, to_decide_in
from whitening.screening.reask import NotAllShown, ReaskResult, apply_reask, check_reask, reask_items


class NothingToAskAgain(Refusal):
    code = "screening.nothing_to_ask_again"
    sentence = _("There are no answers to go through yet. Ask the health questions first.")


class NotAllAnswered(Refusal):
    code = "screening.reask_not_all_answered"
    sentence = _("Each item needs an answer today, also where nothing has changed.")


class NothingToDecide(Refusal):
    code = "screening.reask_nothing_to_decide"
    sentence = _("Nothing of the last re-ask waits for a decision. Reload the page to see what stands now.")


class NoReason(Refusal):
    code = "screening.reask_no_reason"
    sentence = _("Give the reason in your own words.")


def ask_again(
    *, case: Case, shown: Sequence[str], replies: Mapping[str, str], user: User, actor: Actor, now: datetime
) -> tuple[Reask, ReaskResult]:
    """Raises NothingToAskAgain, NotAllShown, NotAllAnswered or CaseClosed; else the row and what changed."""
    require(user, Capability.REASK, case.site)
    asked_on = now.astimezone(case.site.zone).date()
    with transaction.atomic():
        running.hold(case=case)
        answers = answers_of(hold_open(case))
        if answers is None:
            raise NothingToAskAgain
        items = reask_items(answers)
        # Only what is on the list is kept: a form could send anything.
        seen = [item.id for item in items if item.id in shown]
        given = {item.id: replies[item.id] for item in items if item.id in replies}
        if not set(given) <= set(seen):
            raise NotAllShown
        result = check_reask(items=items, shown=seen, replies=given)
        if not result.complete:
            raise NotAllAnswered
        # Somebody who asks once more does not decide: what was new today still waits for a clinician.
        undecided = [item.id for item in to_decide_in(newest_reask(case)) if item not in result.changed]
        row = Reask.objects.create(
            case=case,
            asked_on=asked_on,
            shown=seen,
            replies=given,
            changed=[*(item.id for item in result.changed), *undecided],
            asked_at=now,
            asked_by=actor.name,
        )
        newer = apply_reask(answers=answers, result=result, asked_at=now, asked_on=asked_on)
        keep_answers(case=case, answers=newer, source=Source.CHAIR, language="", actor=actor, now=now)
        _record("screening.asked_again", case, actor, {"replies": given, "changed": row.changed})
        running.asked_again(reask=row, user=user, actor=actor, now=now)
    return row, result


def decide_reask(*, case: Case, reason: str, user: User, actor: Actor, now: datetime) -> ReaskDecision:
    """A clinician goes on in spite of what was new on the day. Raises NothingToDecide, NoReason or CoverRunOut."""
    require(user, Capability.EXAMINE_AND_DECIDE, case.site)
    require_in_date(user, now.astimezone(case.site.zone).date())
    if not reason.strip():
        raise NoReason
    try:
        with transaction.atomic():
            row = newest_reask(hold_open(case))
            # A "no" to going ahead is the patient's own word: only asking again or a withdrawal follows it.
            if row is None or not to_decide_in(row):
                raise NothingToDecide
            decision = ReaskDecision.objects.create(
                reask=row, reason=reason, decided_at=now, profession=user.profession, decided_by=user
            )
            _record("screening.reask_decided", case, actor, {"items": row.changed, "reason": reason})
    except IntegrityError as error:
        raise NothingToDecide from error
    return decision


def _record(verb: str, case: Case, actor: Actor, values: dict[str, object]) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("case", case.pk),
        patient_id=case.patient_id,
        site_id=case.site_id,
        values=values,
    )
