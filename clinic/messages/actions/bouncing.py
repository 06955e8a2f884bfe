"""Mail came back from an address: nothing more goes there, and what it carried goes another way or becomes a call.

The desk says so by one press, from what it sees in the practice's mailbox; whatever reads that mailbox may do the same.
"""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from clinic.messages import kinds
from clinic.messages.actions.byhand import call_off
from clinic.messages.actions.planning import STOPPABLE, note
from clinic.messages.conditions import Drop, judge
from clinic.messages.models import Call, DueMessage, State, Why
from clinic.messages.settling import call_instead, next_try, try_elsewhere
from clinic.patients.models import Channel, Patient
from clinic.patients.person import hold_person
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal


class NotTheAddress(Refusal):
    code = "messages.not_the_address"
    sentence = _(
        "That is not the address of this patient any more. Look at the details and press again if it still is."
    )


@dataclass(frozen=True, slots=True)
class CameBack:
    """How many messages came back or could not wait, and how many of them are now calls to make."""

    messages: int = 0
    calls: int = 0


def mail_came_back(*, patient: Patient, address: str, actor: Actor, now: datetime) -> CameBack:
    """Marks the address until it is corrected. Told twice, it is still one mark. Raises NotTheAddress.

    What was handed over to it, is still wanted and not too late, and what is due now, goes another way or becomes a
    call. What is due later stays planned: a corrected address lets it go out, and without one it becomes a call then.
    """
    with transaction.atomic():
        held = hold_person(patient)
        if not held.email or held.email.casefold() != address.strip().casefold():
            raise NotTheAddress
        if held.email_bounced_at is not None:
            return CameBack()
        held.email_bounced_at = now
        held.save(update_fields=["email_bounced_at"])
        _record("messages.mail_came_back", held, actor)
        theirs = DueMessage.objects.of_person(held)
        touched = _came_back(theirs, held.email, actor, now) + _cannot_wait(theirs, actor, now)
        calls = Call.objects.open().filter(message__in=touched, why=Why.BOUNCED).count()
    return CameBack(len(touched), calls)


def mail_arrives(*, patient: Patient, actor: Actor, now: datetime) -> None:
    """The mark was a mistake, or the mailbox was only full: what could not go out does, and nobody calls for it."""
    with transaction.atomic():
        held = hold_person(patient)
        if held.email_bounced_at is None:
            return
        held.email_bounced_at = None
        held.save(update_fields=["email_bounced_at"])
        _record("messages.mail_arrives", held, actor)
        rows = Call.objects.open().filter(message__patient=held, why=Why.BOUNCED)
        asked = list(rows.select_related("message__site", "message__patient").order_by("pk"))
        for call in asked:
            if call.message.state == State.FAILED and call.message.not_after > now:
                next_try(call.message, due_at=now, now=now)
        call_off(asked, actor=actor, now=now)


def _came_back(theirs: QuerySet[DueMessage], address: str, actor: Actor, now: datetime) -> list[int]:
    gone = theirs.filter(
        channel=Channel.EMAIL,
        sent_to__iexact=address,
        state__in=[State.HANDED_OVER, State.UNCERTAIN],
        not_after__gt=now,
    )
    touched = []
    for message in _locked(gone):
        kind = kinds.registered().get(message.kind)
        subject = kind.load(message.subject_id) if kind is not None else None
        # What nobody needs to be told any more may lie where it is.
        if kind is None or subject is None or kind.still_wanted(subject, message, now) is not True:
            continue
        message.state, message.reason, message.settled_at = State.BOUNCED, "mail to the address comes back", now
        message.save(update_fields=["state", "reason", "settled_at"])
        note(message, verb="messages.came_back", actor=actor)
        try_elsewhere(message, kind=kind, subject=subject, why=Why.BOUNCED, now=now)
        touched.append(message.pk)
    return touched


def _cannot_wait(theirs: QuerySet[DueMessage], actor: Actor, now: datetime) -> list[int]:
    """Due already, and by mail only: a person calls. A corrected address would come too late for some of it."""
    stuck = []
    for message in _locked(theirs.filter(state__in=STOPPABLE, due_at__lte=now)):
        verdict = judge(message, now=now)
        if isinstance(verdict, Drop) and verdict.why is Why.BOUNCED:
            message.state, message.reason = verdict.state, verdict.reason
            message.settled_at, message.lease_until = now, None
            message.save(update_fields=["state", "reason", "settled_at", "lease_until"])
            note(message, verb="messages.failed", actor=actor, reason=verdict.reason)
            call_instead(message, why=Why.BOUNCED, now=now)
            stuck.append(message.pk)
    return stuck


def _locked(rows: QuerySet[DueMessage]) -> QuerySet[DueMessage]:
    return rows.select_related("site", "patient__merged_into").select_for_update(of=("self",)).order_by("pk")


def _record(verb: str, held: Patient, actor: Actor) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("patient", held.pk),
        patient_id=held.pk,
        site_id=held.site_id,
        values={"email": held.email},
    )
