"""Which colleagues were told of a worrying answer, and when: the alert at once, then each time it was raised again."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from clinic.accounts.models import User
from clinic.messages.models import DueMessage, State
from clinic.messages.saying import because
from whitening.recall.actions.raising import RAISED_AGAIN
from whitening.recall.actions.replying import ON_CALL_ALERT
from whitening.recall.models import Escalation

_ARRIVED = {State.HANDED_OVER, State.DELIVERED}


@dataclass(frozen=True, slots=True)
class Word:
    name: str
    at: datetime
    is_told: bool
    # E-mail or text; empty where it did not come so far.
    way: str
    # What became of it instead, and why.
    state: str | Promise
    reason: str


def history(escalation: Escalation) -> list[Word]:
    """Oldest first. Messages to colleagues are no messages to the patient, so they stand here and nowhere else."""
    alerts = list(DueMessage.objects.about(("escalation", escalation.pk)).filter(kind=ON_CALL_ALERT))
    names = _names(message.sent_to for message in alerts)
    found = [_word(names.get(message.sent_to, _("the person on call")), message) for message in alerts]
    raisings = list(escalation.raisings.select_related("person"))
    rows = DueMessage.objects.filter(
        subject_kind="raising", subject_id__in=[each.pk for each in raisings], kind=RAISED_AGAIN
    )
    people = {each.pk: each.person.name for each in raisings}
    found += [_word(people[message.subject_id], message) for message in rows]
    return sorted(found, key=lambda word: word.at)


def _names(addresses: Iterable[str]) -> dict[str, str]:
    """By address or number; who has another one today is shown as the person on call."""
    asked = [each for each in addresses if each]
    rows = User.objects.filter(Q(email__in=asked) | Q(phone__in=asked)).values_list("email", "phone", "name")
    return {way: name for email, phone, name in rows for way in (email, phone.as_e164 if phone else "") if way}


def _word(name: str, message: DueMessage) -> Word:
    state = State(message.state)
    return Word(
        name=name,
        at=message.handed_over_at or message.due_at,
        is_told=state in _ARRIVED,
        way=message.get_channel_display(),
        state=state.label,
        reason=because(message.reason),
    )
