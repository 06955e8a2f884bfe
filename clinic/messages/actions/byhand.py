"""What staff do about messages that did not go the usual way: send again, note how a call went."""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.messages import kinds, settling
from clinic.messages.actions.planning import NEXT_TRY, note
from clinic.messages.models import ASTRAY, Call, DueMessage, Outcome, State, Why
from clinic.patients.actions import number_is_wrong
from clinic.patients.person import hold_person
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal

WHY = {State.MISSED: Why.MISSED, State.BOUNCED: Why.BOUNCED, State.UNCERTAIN: Why.UNCERTAIN}


class NothingToSendAgain(Refusal):
    code = "messages.nothing_to_send_again"
    sentence = _("This message is not one that failed, was missed or is uncertain. Reload the page and look again.")


class CallSettled(Refusal):
    code = "messages.call_settled"
    sentence = _("Somebody has noted already how this call went. Reload the page to see it.")


class SeenTo(Refusal):
    code = "messages.seen_to"
    sentence = _("Somebody has seen to this message already. Reload the page to see what is left.")


def send_again(*, message: DueMessage, user: User, actor: Actor, now: datetime) -> DueMessage:
    """A further step of the same message, due now; its conditions are read again like those of any other.

    Asked for twice it is one message. Raises NothingToSendAgain, or SeenTo once somebody has noted how its call went.
    """
    require(user, Capability.MESSAGES_SEND, message.site)
    with transaction.atomic():
        held = _held(message.pk)
        if held.state not in ASTRAY:
            raise NothingToSendAgain
        if not _went_again(held) and Call.objects.filter(message=held, settled_at__isnull=False).exists():
            raise SeenTo
        again = settling.next_try(held, due_at=now, now=now, not_after=now + kinds.get(held.kind).lasts)
        note(held, verb="messages.sent_again", actor=actor, step=again.step)
        call_off(Call.objects.filter(message=held).select_related("message"), actor=actor, now=now)
    return again


def see_to(*, message: DueMessage, called: bool, user: User, actor: Actor, now: datetime) -> None:
    """Somebody called instead, or lets it be; kept as a call that is settled already. Raises SeenTo."""
    require(user, Capability.MESSAGES_SEND, message.site)
    with transaction.atomic():
        held = _held(message.pk)
        if held.state not in ASTRAY or Call.objects.filter(message=held).exists() or _went_again(held):
            raise SeenTo
        outcome = Outcome.REACHED if called else Outcome.NOT_NEEDED
        Call.objects.create(
            message=held,
            site=held.site,
            patient=held.patient,
            why=WHY.get(State(held.state), Why.FAILED),
            wanted_at=now,
            settled_at=now,
            settled_by=actor.name,
            outcome=outcome,
        )
        note(held, verb="messages.call_settled", actor=actor, outcome=outcome)


def _held(pk: int) -> DueMessage:
    """The patient before the message, and both before its call: as whoever ends everything that waits for somebody."""
    hold_person(DueMessage.objects.select_related("patient").get(pk=pk).patient)
    return DueMessage.objects.select_for_update(of=("self",)).select_related("site", "patient").get(pk=pk)


def _went_again(held: DueMessage) -> bool:
    same = DueMessage.objects.about(held.subject).filter(kind=held.kind, version=held.version)
    return same.filter(step=held.step + NEXT_TRY).exists()


def settle_call(*, call: Call, outcome: Outcome, user: User, actor: Actor, now: datetime) -> None:
    """A wrong number settles nothing: it is marked, and the call waits for another one. Raises CallSettled."""
    require(user, Capability.MESSAGES_SEND, call.site)
    with transaction.atomic():
        _held(call.message_id)
        still_open = Call.objects.filter(pk=call.pk, settled_at=None)
        if outcome == Outcome.WRONG_NUMBER:
            if not still_open.select_for_update().exists():
                raise CallSettled
            number_is_wrong(patient=call.patient, actor=actor, now=now)
            note(call.message, verb="messages.call_wrong_number", actor=actor, outcome=outcome)
        elif not still_open.update(settled_at=now, settled_by=actor.name, outcome=outcome):
            raise CallSettled
        else:
            note(call.message, verb="messages.call_settled", actor=actor, outcome=outcome)
    call.refresh_from_db()


def call_off(calls: Iterable[Call], *, actor: Actor, now: datetime, outcome: Outcome = Outcome.OVER) -> None:
    """Nobody has to make them any more: what they were about is over, or not wanted. In the caller's transaction.

    Every call that the program settles is settled here; how a call went is said by whoever made it.
    """
    for call in calls:
        still_open = Call.objects.open().filter(pk=call.pk)
        if still_open.update(settled_at=now, settled_by=actor.name[:120], outcome=outcome):
            note(call.message, verb="messages.call_settled", actor=actor, outcome=outcome)
