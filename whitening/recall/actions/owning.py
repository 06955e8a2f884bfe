"""Giving a call or a worrying answer to somebody else, with a word: the rota decides first, people decide after it."""

from datetime import datetime

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require, who_may
from clinic.messages.models import DueMessage
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.recall.actions.calls import AlreadyClosed, capability_for
from whitening.recall.actions.replying import ON_CALL_ALERT, alert
from whitening.recall.models import Escalation, FollowUp


class NeedsAReason(Refusal):
    code = "recall.needs_a_reason"
    sentence = _("Write in a word why somebody else takes it over; whoever looks for it later reads that.")


class CannotOwn(Refusal):
    code = "recall.cannot_own"
    sentence = _("%(name)s may not do this here. Choose somebody whose role at this site includes it.")


def hand_on(*, follow_up: FollowUp, to: User, words: str, user: User, actor: Actor) -> FollowUp:
    """Anybody who calls may: whoever has the patient on the line, and may not ask, gives it to one who may."""
    require(user, Capability.RECALL_CALL, follow_up.site)
    _check(to, words, who_may(capability_for(follow_up.kind), follow_up.site))
    with transaction.atomic():
        held = FollowUp.objects.select_for_update(of=("self",)).select_related("case").get(pk=follow_up.pk)
        if held.closed_at is not None:
            raise AlreadyClosed
        before, held.owner = held.owner_id, to
        held.version += 1
        held.save(update_fields=["owner", "version"])
        _record(("follow_up", held.pk), held.case.patient_id, held.site_id, before, to, words, actor)
    return held


def hand_on_answer(
    *, escalation: Escalation, to: User, words: str, user: User, actor: Actor, now: datetime
) -> Escalation:
    """Nobody has taken it from then on, until the new owner does: they are told at once, and told again."""
    site = escalation.case.site
    require(user, Capability.REPLIES_READ, site)
    _check(to, words, who_may(Capability.REPLIES_READ, site))
    with transaction.atomic():
        held = Escalation.objects.select_for_update(of=("self",)).select_related("case__site", "case__patient")
        one = held.get(pk=escalation.pk)
        if one.closed_at is not None:
            raise AlreadyClosed
        before, one.owner = one.owner_id, to
        # Whoever takes it over for themselves has it already.
        one.taken_at = now if to == user else None
        if to != user:
            one.handed_on_at, one.times_raised, one.raised_again_at = now, 0, None
        one.save(update_fields=["owner", "taken_at", "handed_on_at", "times_raised", "raised_again_at"])
        if to != user:
            alert(one, person=to, now=now, version=_next_version(one))
        _record(("escalation", one.pk), one.case.patient_id, site.pk, before, to, words, actor)
    return one


def _next_version(escalation: Escalation) -> int:
    told = DueMessage.objects.about(("escalation", escalation.pk)).filter(kind=ON_CALL_ALERT)
    return int(told.aggregate(newest=Max("version"))["newest"] or 0) + 1


def _check(to: User, words: str, able: list[User]) -> None:
    if not words.strip():
        raise NeedsAReason
    if to not in able:
        raise CannotOwn(name=to.name)


def _record(
    subject: tuple[str, int], patient_id: int, site_id: int, before: int | None, to: User, words: str, actor: Actor
) -> None:
    record(
        verb="recall.handed_on",
        actor=actor,
        subject=subject,
        patient_id=patient_id,
        site_id=site_id,
        values={"from": before, "to": to.pk, "words": words.strip()},
    )
