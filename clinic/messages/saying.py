"""What staff read of messages to a patient: which went out, when, how, and what became of the others, in plain words.

A line says nothing of what stands in the message: its kind's name, fit for the desk, is all that names its matter.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django_stubs_ext import StrOrPromise

from clinic.messages import kinds
from clinic.messages.models import Call, DueMessage, State
from clinic.messages.models.calls import BY_ITSELF
from clinic.messages.models.due import DueMessageQuerySet
from clinic.patients.models import Patient
from clinic.patients.person import person_ids

# What the rows keep of it, in fixed words, and what staff read. An answer of a mail server keeps its number.
_BECAUSE: dict[str, StrOrPromise] = {
    "the patient has died": gettext_lazy("the patient was noted as died"),
    "the patient has moved away": gettext_lazy("the patient was noted as moved away"),
    "the patient does not want such messages": gettext_lazy("the patient does not want such messages"),
    "the patient does not want such messages in the ways there are": gettext_lazy(
        "the patient does not want such messages in the ways there are"
    ),
    "replaced by a newer version": gettext_lazy("a newer one took its place"),
    "changed since": gettext_lazy("the visit has changed since"),
    "said that they come": gettext_lazy("the patient has said that they come"),
    "answered": gettext_lazy("the patient has answered"),
    "answered already": gettext_lazy("the patient has answered"),
    "answered or booked already": gettext_lazy("the patient has answered or has a visit"),
    "booked already": gettext_lazy("a visit is booked"),
    "not to be asked any more": gettext_lazy("nobody has to be asked back any more"),
    "in treatment": gettext_lazy("a new treatment has begun"),
    "the case is closed": gettext_lazy("the case is closed"),
    "the recall is over": gettext_lazy("nobody has to be asked back any more"),
    "the invitation ended": gettext_lazy("the invitation has ended"),
    "there is no other way to write to this person": gettext_lazy("there is no other way to write to this person"),
    "not on offer any more": gettext_lazy("the time is not on offer any more"),
    "taken already": gettext_lazy("a colleague has taken it"),
    "settled already": gettext_lazy("it has been settled"),
    "there is nobody to tell": gettext_lazy("there was nobody to tell"),
    "the colleague has no address to write to": gettext_lazy("the colleague has no e-mail or mobile number here"),
    "no e-mail or mobile number to write to": gettext_lazy("there is no e-mail or mobile number to write to"),
    "mail to the address comes back": gettext_lazy("mail to the address comes back"),
    "too late to send": gettext_lazy("it would have come too late"),
    "no allowed moment was left before it was too late": gettext_lazy("it would have come too late"),
    "waits for the hours and days on which messages go out": gettext_lazy(
        "waits for the hours and days on which messages go out"
    ),
    "waits: no more than one message a day and three a week": gettext_lazy(
        "waits, as no more than one message a day and three a week go out"
    ),
    "Set-up lacks the telephone or the emergency, poison-advice or out-of-hours number": gettext_lazy(
        "waits for a telephone number that Set-up lacks"
    ),
}
_NUMBER = re.compile(r"\((\d{3})\)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    label: str | Promise
    # Sent, to be sent, or when it ended without.
    at: datetime
    way: StrOrPromise
    state: StrOrPromise
    # Somebody should look at it, or has to.
    is_astray: bool


def of_patient(patient: Patient) -> DueMessageQuerySet:
    """The newest first. What is written to colleagues about a patient is no message to the patient."""
    # By their numbers: one index then gives them in order, which an "or" across two tables would not.
    return _shown(DueMessage.objects.filter(patient__in=person_ids(patient)))


def about(subject: tuple[str, int]) -> DueMessageQuerySet:
    return _shown(DueMessage.objects.about(subject))


def _shown(rows: DueMessageQuerySet) -> DueMessageQuerySet:
    to_colleagues = [code for code, kind in kinds.registered().items() if kind.recipient is not None]
    return rows.exclude(kind__in=to_colleagues).select_related("call").order_by("-due_at", "-pk")


def lines(rows: Iterable[DueMessage]) -> list[Line]:
    return [_line(row) for row in rows]


def _line(row: DueMessage) -> Line:
    state = State(row.state)
    call = getattr(row, "call", None)
    return Line(
        label=kinds.label_of(row.kind),
        at=row.handed_over_at or (row.due_at if row.settled_at is None else row.settled_at),
        way=row.get_channel_display(),
        state=_by_hand(call) if call is not None else _said(state, row),
        is_astray=call.settled_at is None if call is not None else state in _ASTRAY,
    )


_ASTRAY = {State.UNCERTAIN, State.FAILED, State.BOUNCED}


def _by_hand(call: Call) -> StrOrPromise:
    """The message itself did not go out, or not surely: what counts is the call."""
    if call.settled_at is None:
        return _("a call to make: %(why)s") % {"why": call.get_why_display()}
    if call.outcome in BY_ITSELF:
        return call.get_outcome_display()
    return _("a call instead: %(outcome)s") % {"outcome": call.get_outcome_display()}


def _said(state: State, row: DueMessage) -> StrOrPromise:
    why = because(row.reason)
    if state in {State.PLANNED, State.DUE}:
        return _("planned: %(why)s") % {"why": why} if why else _("planned")
    if state in {State.CANCELLED, State.MISSED}:
        return _("not sent: %(why)s") % {"why": why} if why else _("not sent")
    if state is State.FAILED:
        return _("could not be sent: %(why)s") % {"why": why} if why else _("could not be sent")
    return _PLAIN[state]


_PLAIN: dict[State, StrOrPromise] = {
    State.CLAIMED: gettext_lazy("goes out at this moment"),
    State.HANDING_OVER: gettext_lazy("goes out at this moment"),
    State.HANDED_OVER: gettext_lazy("sent"),
    State.DELIVERED: gettext_lazy("delivered"),
    State.BOUNCED: gettext_lazy("came back"),
    State.UNCERTAIN: gettext_lazy("may have gone out: nobody knows for certain"),
}


def because(reason: str) -> str:
    """What a row keeps as its reason, as staff read it: the one place for it, whoever shows a message.

    Words of an older program, or of a mistake in it, say nothing to staff.
    """
    if reason in _BECAUSE:
        return str(_BECAUSE[reason])
    number = _NUMBER.search(reason)
    return _("the mail server said no (%(number)s)") % {"number": number[1]} if number else ""
