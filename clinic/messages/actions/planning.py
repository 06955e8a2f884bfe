"""Planning and cancelling what is due, always inside the transaction of the fact that caused it."""

from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime

from django.db import IntegrityError, models, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from clinic.messages import kinds
from clinic.messages.models import DueMessage, State
from clinic.patients.models import Patient
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.readymade import write_unless_there
from clinic.trail.record import About, OutsideTransaction, record
from clinic.trail.refusals import Refusal

# Steps from here on are further tries of the same message on another channel.
NEXT_TRY = 100
# A row that is being handed over can no longer be stopped; everything before that can.
STOPPABLE = [State.PLANNED, State.DUE, State.CLAIMED]


class TooLateToCancel(Refusal):
    code = "messages.too_late_to_cancel"
    sentence = _("This message is being handed over or has gone out already. Call the patient if something changed.")


def plan(
    *,
    kind: str,
    subject: tuple[str, int],
    patient: Patient,
    site: Site,
    due_at: datetime,
    now: datetime,
    version: int = 1,
    step: int = 0,
    not_after: datetime | None = None,
    actor: Actor = SYSTEM,
) -> DueMessage:
    """Plans once per subject, kind, version and step; asking again returns the row as it stands.

    A higher version of the subject supersedes whatever of this kind is still waiting for a lower one.
    """
    _inside_a_transaction()
    known = kinds.get(kind)
    if subject[0] != known.subject_kind or not 0 <= step < NEXT_TRY or version < 1:
        raise ValueError(f"{kind} speaks about a {known.subject_kind}, in versions from 1 and steps below {NEXT_TRY}.")
    message = DueMessage(
        subject_kind=subject[0],
        subject_id=subject[1],
        kind=kind,
        version=version,
        step=step,
        site=site,
        patient=patient,
        due_at=due_at,
        not_after=not_after or due_at + known.lasts,
        state=State.PLANNED if due_at > now else State.DUE,
        planned_at=now,
    )
    if version > 1:
        older = _alike(message).filter(version__lt=version)
        _cancel(older, because="replaced by a newer version", actor=actor, now=now)
    if not write_unless_there(message):
        return _standing(message)
    note(message, verb="messages.planned", actor=actor, due_at=message.due_at, step=step, version=version)
    return message


def cancel_for(
    *, subject: tuple[str, int], because: str, actor: Actor, now: datetime, kinds_only: Collection[str] | None = None
) -> int:
    """Cancels what still waits about the subject; returns how many. `because`: fixed words, nothing personal."""
    _inside_a_transaction()
    rows = DueMessage.objects.about(subject)
    if kinds_only is not None:
        rows = rows.filter(kind__in=kinds_only)
    return _cancel(rows, because=because, actor=actor, now=now)


def cancel_for_patient(*, patient: Patient, because: str, actor: Actor, now: datetime) -> int:
    """Everything that still waits for this person: died, moved away, asked us to stop."""
    _inside_a_transaction()
    return _cancel(DueMessage.objects.filter(patient=patient), because=because, actor=actor, now=now)


def cancel_one(*, message: DueMessage, because: str, user: User, actor: Actor, now: datetime) -> None:
    """Raises TooLateToCancel once the hand-over has begun, NotAllowed without the right to send messages."""
    require(user, Capability.MESSAGES_SEND, message.site)
    with transaction.atomic():
        if not _cancel(DueMessage.objects.filter(pk=message.pk), because=because, actor=actor, now=now):
            raise TooLateToCancel
    message.refresh_from_db()


def stop_waiting(
    rows: models.QuerySet[DueMessage],
    *,
    only: Callable[[DueMessage], bool],
    because: str,
    actor: Actor,
    now: datetime,
) -> int:
    """Cancels those of the rows that still wait and of which `only` is true; returns how many."""
    _inside_a_transaction()
    waiting = rows.filter(state__in=STOPPABLE).select_related("site").select_for_update(of=("self",)).order_by("pk")
    chosen = [message for message in waiting if only(message)]
    _stop(chosen, because=because, actor=actor, now=now)
    return len(chosen)


def note(message: DueMessage, *, verb: str, actor: Actor = SYSTEM, **values: object) -> None:
    """The trail entry of one message, about its patient."""
    record(verb=verb, actor=actor, **told(message, values))


def told(message: DueMessage, values: Mapping[str, object]) -> About:
    return {
        "subject": ("message", message.pk),
        "patient_id": message.patient_id,
        "site_id": message.site_id,
        "values": {"kind": message.kind, "about": f"{message.subject_kind} {message.subject_id}", **values},
    }


def _alike(message: DueMessage) -> models.QuerySet[DueMessage]:
    return DueMessage.objects.about(message.subject).filter(kind=message.kind)


def _standing(message: DueMessage) -> DueMessage:
    """As it was planned already. Locked, so that a sweeper which has just claimed it is waited for."""
    same = _alike(message).filter(version=message.version, step=message.step)
    there = same.select_for_update().first()
    if there is None:
        raise IntegrityError("A message that the database refuses, and that nobody has planned.")
    return there


def _cancel(rows: models.QuerySet[DueMessage], *, because: str, actor: Actor, now: datetime) -> int:
    # Locked first on PostgreSQL, so that a sweeper which has just claimed a row is waited for.
    waiting = list(rows.filter(state__in=STOPPABLE).select_for_update().order_by("pk"))
    _stop(waiting, because=because, actor=actor, now=now)
    return len(waiting)


def _stop(waiting: Sequence[DueMessage], *, because: str, actor: Actor, now: datetime) -> None:
    for message in waiting:
        message.state, message.reason = State.CANCELLED, because[:120]
        message.settled_at, message.lease_until = now, None
        message.save(update_fields=["state", "reason", "settled_at", "lease_until"])
        note(message, verb="messages.cancelled", actor=actor, because=because)


def _inside_a_transaction() -> None:
    if not transaction.get_connection().in_atomic_block:
        raise OutsideTransaction("Messages are planned and cancelled in the transaction of what caused them.")
