"""Calls and closing: two taps for a call, a word for closing what was worrying."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may, require
from clinic.diary.models import COMING
from clinic.messages.actions.elsewhere import ask_elsewhere
from clinic.messages.actions.planning import NEXT_TRY
from clinic.messages.models import DueMessage
from clinic.patients.actions import number_is_wrong
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.actions import close_case
from whitening.cases.models import Case, CloseReason
from whitening.recall import timing
from whitening.recall.actions.planning import TWO_DAY_CHECK
from whitening.recall.models import Attempt, AttemptResult, Escalation, FollowUp, FollowUpKind, FollowUpState
from whitening.recall.reading_hours import reads_at

# Common practice, no source: nobody is given up who was at work all morning.
TRIES, ON_DAYS = 3, 2
_IN_VAIN = (AttemptResult.LEFT_MESSAGE, AttemptResult.NO_ANSWER, AttemptResult.WRONG_NUMBER)


class NeedsWords(Refusal):
    code = "recall.needs_words"
    sentence = _("Write in a word or two what came of it. Only then can it be closed.")


class AlreadyClosed(Refusal):
    code = "recall.already_closed"
    sentence = _("Somebody closed this already. Reload the page to see what they wrote.")


class CalledMeanwhile(Refusal):
    code = "recall.called_meanwhile"
    sentence = _(
        "Nothing is noted: somebody noted something about this since you opened the page. If yours was another call, "
        "note it again."
    )


class TakenAlready(Refusal):
    code = "recall.taken_already"
    sentence = _("%(name)s has taken this already. Ask them, or settle it here when you have seen to it yourself.")


def log_attempt(
    *,
    follow_up: FollowUp,
    seen_version: int,
    result: AttemptResult,
    words: str,
    user: User,
    actor: Actor,
    now: datetime,
) -> Attempt:
    """Reached or a wish for a visit settles it; three tries without an answer, on two days, end as not reached.

    A wish that the desk notes settles no check: it finds a time, and somebody at the chair still asks how they are.
    In between it says when to try again. Somebody who cannot be reached about the review has no visit to come: the
    case ends with it. One call noted twice is one try: raises CalledMeanwhile for a version that is no longer the last.
    """
    require(user, to_note(follow_up.kind, result), follow_up.site)
    asks = may(user, capability_for(follow_up.kind), follow_up.site)
    with transaction.atomic():
        held = _held(follow_up, seen_version)
        attempt = Attempt.objects.create(followup=held, result=result, words=words, tried_at=now, tried_by=user)
        held.state = _state_after(held, result, asks=asks)
        held.closed_at = now if held.state in {FollowUpState.DONE, FollowUpState.NOT_REACHED} else None
        if held.closed_at is None:
            held.next_at = _next_at(held, result, actor=actor, now=now)
        held.version += 1
        held.save()
        record(
            verb="recall.called",
            actor=actor,
            subject=("follow_up", held.pk),
            patient_id=held.case.patient_id,
            site_id=held.site_id,
            values={"result": str(result), "words": words},
        )
        if held.state is FollowUpState.NOT_REACHED and held.kind == FollowUpKind.REVIEW:
            _end_unreached(held.case, actor=actor, now=now)
    return attempt


def _held(follow_up: FollowUp, seen_version: int) -> FollowUp:
    rows = FollowUp.objects.select_for_update(of=("self",)).select_related("case__patient", "site")
    held = rows.get(pk=follow_up.pk)
    if held.closed_at is not None:
        raise AlreadyClosed
    if held.version != seen_version:
        raise CalledMeanwhile
    return held


def capability_for(kind: str) -> Capability:
    """How somebody is after treatment is asked by those at the chair; a time for the review is anybody's call."""
    return Capability.RECALL_CALL if kind == FollowUpKind.REVIEW else Capability.FOLLOWUPS_WORK


def to_note(kind: str, result: AttemptResult) -> Capability:
    """Whoever reaches the patient asks them; that nobody answered, or what visit they want, anybody may note."""
    return capability_for(kind) if result is AttemptResult.REACHED else Capability.RECALL_CALL


def _next_at(held: FollowUp, result: AttemptResult, *, actor: Actor, now: datetime) -> datetime:
    """A wrong number waits for another one at once, unless the question can be asked in another way.

    Who answered and was not asked how they are is called at once.
    """
    if result not in _IN_VAIN:
        return now
    if result is AttemptResult.WRONG_NUMBER:
        number_is_wrong(patient=held.case.patient, actor=actor, now=now)
        return now + timing.DAY if _asked_in_writing(held, now) else now
    tries = held.attempts.values_list("tried_at", flat=True)
    today = timing.local_day(now, held.site.zone)
    again_at = timing.next_call(
        now,
        held.site.zone,
        left_message=result is AttemptResult.LEFT_MESSAGE,
        tries_today=sum(timing.local_day(at, held.site.zone) == today for at in tries),
    )
    return reads_at(held.site, now=again_at)


def _asked_in_writing(held: FollowUp, now: datetime) -> bool:
    """Once more, on a channel that was not used yet; the review's invitation has had its reminder."""
    if held.kind not in {FollowUpKind.TWO_DAY, FollowUpKind.RE_ASK}:
        return False
    subject = ("follow_up", held.pk)
    steps = DueMessage.objects.about(subject).filter(kind=TWO_DAY_CHECK).values_list("step", flat=True)
    step = max((step % NEXT_TRY for step in steps), default=0) + 1
    asked = ask_elsewhere(kind=TWO_DAY_CHECK, subject=subject, step=step, not_after=now + timing.DAY, now=now)
    return asked is not None


def _end_unreached(case: Case, *, actor: Actor, now: datetime) -> None:
    """Not over something that still stands in the diary, or that somebody has yet to answer."""
    comes = case.visits.filter(booking__status__in=COMING).exists()
    if case.closed_at is None and not comes and not Escalation.objects.open().filter(case=case).exists():
        close_case(case=case, reason=CloseReason.NOT_REACHED, words="", actor=actor, now=now)


def take_escalation(*, escalation: Escalation, user: User, actor: Actor, now: datetime) -> Escalation:
    """Makes the user its owner; nobody is told again. Raises AlreadyClosed or TakenAlready."""
    require(user, Capability.REPLIES_READ, escalation.case.site)
    with transaction.atomic():
        if not Escalation.objects.untaken().filter(pk=escalation.pk).update(taken_at=now, owner=user):
            held = Escalation.objects.select_related("owner").get(pk=escalation.pk)
            if held.closed_at is not None or held.owner is None:
                raise AlreadyClosed
            raise TakenAlready(name=held.owner.name)
        record(
            verb="recall.taken",
            actor=actor,
            subject=("escalation", escalation.pk),
            patient_id=escalation.case.patient_id,
            site_id=escalation.case.site_id,
            values={"owner": user.pk},
        )
    escalation.refresh_from_db()
    return escalation


def close_escalation(*, escalation: Escalation, words: str, user: User, actor: Actor, now: datetime) -> Escalation:
    require(user, Capability.REPLIES_READ, escalation.case.site)
    if not words.strip():
        raise NeedsWords
    with transaction.atomic():
        changed = Escalation.objects.filter(pk=escalation.pk, closed_at=None).update(
            closed_at=now, closed_by=actor.name, closing_words=words.strip()
        )
        if not changed:
            raise AlreadyClosed
        record(
            verb="recall.escalation_closed",
            actor=actor,
            subject=("escalation", escalation.pk),
            patient_id=escalation.case.patient_id,
            site_id=escalation.case.site_id,
            values={"words": words.strip()},
        )
    escalation.refresh_from_db()
    return escalation


def _state_after(follow_up: FollowUp, result: AttemptResult, *, asks: bool) -> FollowUpState:
    if result not in _IN_VAIN:
        return FollowUpState.DONE if asks else FollowUpState.CALL
    zone = follow_up.site.zone
    tries = follow_up.attempts.filter(result__in=_IN_VAIN).values_list("tried_at", flat=True)
    tried_on = [at.astimezone(zone).date() for at in tries]
    given_up = len(tried_on) >= TRIES and len(set(tried_on)) >= ON_DAYS
    return FollowUpState.NOT_REACHED if given_up else FollowUpState.CALL
