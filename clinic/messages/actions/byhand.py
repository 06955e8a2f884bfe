"""What staff do about messages that did not go the usual way: send again, note how a call went."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.messages import kinds, settling
from clinic.messages.actions.planning import note
from clinic.messages.models import Call, DueMessage, Outcome, State
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal

MAY_GO_AGAIN = {State.FAILED, State.UNCERTAIN, State.MISSED, State.BOUNCED}


class NothingToSendAgain(Refusal):
    code = "messages.nothing_to_send_again"
    sentence = _("This message is not one that failed, was missed or is uncertain. Reload the page and look again.")


class CallSettled(Refusal):
    code = "messages.call_settled"
    sentence = _("Somebody has noted already how this call went. Reload the page to see it.")


def send_again(*, message: DueMessage, user: User, actor: Actor, now: datetime) -> DueMessage:
    """A further step of the same message, due now; its conditions are read again like those of any other."""
    require(user, Capability.MESSAGES_SEND, message.site)
    with transaction.atomic():
        held = DueMessage.objects.select_for_update().get(pk=message.pk)
        if held.state not in MAY_GO_AGAIN:
            raise NothingToSendAgain
        again = settling.next_try(held, due_at=now, now=now, not_after=now + kinds.get(held.kind).lasts)
        note(held, verb="messages.sent_again", actor=actor, step=again.step)
        Call.objects.filter(message=held, settled_at=None).update(
            settled_at=now, settled_by=actor.name, outcome=Outcome.NOT_NEEDED
        )
    return again


def settle_call(*, call: Call, outcome: Outcome, user: User, actor: Actor, now: datetime) -> None:
    """Raises CallSettled when a colleague was quicker."""
    require(user, Capability.MESSAGES_SEND, call.site)
    with transaction.atomic():
        still_open = Call.objects.filter(pk=call.pk, settled_at=None)
        if not still_open.update(settled_at=now, settled_by=actor.name, outcome=outcome):
            raise CallSettled
        note(call.message, verb="messages.call_settled", actor=actor, outcome=outcome)
    call.refresh_from_db()
