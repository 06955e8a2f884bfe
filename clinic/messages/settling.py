"""What becomes of a message once its hand-over ended: one transaction, fenced by the attempt."""

from datetime import datetime
from typing import Any

from django.db import connection, transaction
from django.db.models import Exists

from clinic.messages import claims, kinds, links
from clinic.messages.actions.planning import NEXT_TRY, note, told
from clinic.messages.channels.parcel import Fate, Handed
from clinic.messages.conditions import Drop, Send, Wait, is_asked_elsewhere, other_channel
from clinic.messages.models import Call, DueMessage, Ended, PrivateLink, State, Why
from clinic.messages.rules import back_off
from clinic.trail.actor import SYSTEM
from clinic.trail.readymade import Blank, Statement, blanks, once, update
from clinic.trail.record import noting, record, record_with

VERBS = {
    State.CANCELLED: "messages.cancelled",
    State.MISSED: "messages.missed",
    State.FAILED: "messages.failed",
    State.HANDED_OVER: "messages.handed_over",
}


def settle(
    message: DueMessage,
    send: Send,
    handed: Handed,
    *,
    link: PrivateLink | None,
    now: datetime,
    real_now: datetime,
) -> State | None:
    """The state it ended in; None when somebody else had settled this attempt."""
    if handed.fate is Fate.UNCERTAIN:
        _change(message, channel=send.channel, sent_to=_address(send))
        return State.UNCERTAIN if claims.doubt(message, reason=handed.reason, now=now) else None
    if handed.fate is Fate.TAKEN and (taken := _taken(message, send, handed, now, only=link)) is not None:
        # Nearly always: then there is nothing else to write.
        return taken
    with transaction.atomic():
        if handed.fate is Fate.TAKEN:
            state = _taken(message, send, handed, now)
        elif handed.fate is Fate.LATER:
            state = _later(message, handed, real_now)
        else:
            state = _refused(message, send, handed, now)
        if state is not None and link is not None:
            if state is State.HANDED_OVER:
                links.keep_only(link, now=now)
            else:
                links.end_link(link, because=Ended.NOT_SENT, now=now)
    return state


def drop(message: DueMessage, verdict: Drop, *, now: datetime) -> State | None:
    """Not sent, for good; a person calls where the verdict says so."""
    with transaction.atomic():
        changed = _change(
            message,
            state=verdict.state,
            reason=verdict.reason[:120],
            channel=verdict.channel,
            handed_over_at=now if verdict.state is State.HANDED_OVER else None,
            settled_at=now,
            lease_until=None,
        )
        if not changed:
            return None
        note(message, verb=VERBS[verdict.state], reason=verdict.reason, channel=verdict.channel)
        if verdict.why is not None and _owes_a_call(message):
            call_instead(message, why=verdict.why, now=now, post_by=verdict.post_by)
    return verdict.state


def put_off(message: DueMessage, verdict: Wait, *, real_now: datetime) -> State | None:
    """Due again, later. Nothing happened to the patient, so the trail holds nothing of it."""
    until = None if verdict.due_at is not None else real_now + verdict.pause
    due_at = verdict.due_at or message.due_at
    changed = _change(message, state=State.DUE, due_at=due_at, lease_until=until, reason=verdict.reason[:120])
    return State.DUE if changed else None


def call_instead(message: DueMessage, *, why: Why, now: datetime, post_by: datetime | None = None) -> Call:
    call, made = Call.objects.get_or_create(
        message=message,
        defaults={
            "site": message.site,
            "patient": message.patient,
            "why": why,
            "wanted_at": now,
            "post_by": post_by,
        },
    )
    if made:
        note(message, verb="messages.became_a_call", why=why)
    return call


def _taken(
    message: DueMessage, send: Send, handed: Handed, now: datetime, *, only: PrivateLink | None = None
) -> State | None:
    changed = _change_and_note(
        message,
        "messages.handed_over",
        {"channel": send.channel, "to": _address(send)},
        only=only,
        state=State.HANDED_OVER,
        channel=send.channel,
        sent_to=_address(send),
        provider_id=handed.provider_id,
        handed_over_at=now,
        settled_at=now,
        lease_until=None,
        reason="",
    )
    return State.HANDED_OVER if changed else None


def _later(message: DueMessage, handed: Handed, real_now: datetime) -> State | None:
    """Only a no to this very mail makes the pause longer: a server that comes back after an hour gets it at once."""
    refused = message.times_refused + handed.is_of_this_mail
    until = real_now + back_off(refused)
    reason = handed.reason[:120]
    changed = _change(message, state=State.DUE, lease_until=until, reason=reason, times_refused=refused)
    return State.DUE if changed else None


def _refused(message: DueMessage, send: Send, handed: Handed, now: datetime) -> State | None:
    changed = _change(
        message,
        state=State.FAILED,
        channel=send.channel,
        sent_to=_address(send),
        settled_at=now,
        lease_until=None,
        reason=handed.reason[:120],
    )
    if not changed:
        return None
    note(message, verb="messages.failed", channel=send.channel, reason=handed.reason)
    message.channel = send.channel
    try_elsewhere(message, kind=send.kind, subject=send.subject, why=Why.FAILED, now=now)
    return State.FAILED


def try_elsewhere(message: DueMessage, *, kind: Any, subject: Any, why: Why, now: datetime) -> None:
    """A further step on another channel where there is one; else a person calls."""
    if now < message.not_after and other_channel(message, kind, subject):
        next_try(message, due_at=now, now=now)
    elif kind.recipient is None and _owes_a_call(message):
        call_instead(message, why=why, now=now)


def _owes_a_call(message: DueMessage) -> bool:
    """Where a further asking fails, the silence that it was for becomes a call by itself, and once is enough."""
    kind = kinds.registered().get(message.kind)
    return kind is None or not is_asked_elsewhere(kind, message)


def next_try(message: DueMessage, *, due_at: datetime, now: datetime, not_after: datetime | None = None) -> DueMessage:
    """The same message once more, as a step of its own; asked for twice, it is still one row."""
    again, made = DueMessage.objects.get_or_create(
        subject_kind=message.subject_kind,
        subject_id=message.subject_id,
        kind=message.kind,
        version=message.version,
        step=message.step + NEXT_TRY,
        defaults={
            "site": message.site,
            "patient": message.patient,
            "due_at": due_at,
            "not_after": not_after or max(message.not_after, due_at),
            "state": State.DUE,
            "planned_at": now,
        },
    )
    if made:
        note(again, verb="messages.planned", due_at=due_at, step=again.step, version=again.version)
    return again


def _address(send: Send) -> str:
    return send.recipient.email if send.channel == "email" else send.recipient.phone


def _change(message: DueMessage, **values: Any) -> int:
    return _changing(tuple(values)).run(held_pk=message.pk, held_attempt=message.attempt, **values)


def _change_and_note(
    message: DueMessage, verb: str, noted: dict[str, object], *, only: PrivateLink | None, **values: Any
) -> bool:
    """Both or neither, and neither where another link like this one still opens. On PostgreSQL one statement, which
    needs no BEGIN and no COMMIT around it.
    """
    changed = {"held_pk": message.pk, "held_attempt": message.attempt, **values}
    if only is not None:
        changed |= links.known_by(only)
    columns, is_only = tuple(values), only is not None
    if connection.vendor == "postgresql":
        both = _changing_noted(columns, is_only)
        return record_with(both, changed, verb=verb, actor=SYSTEM, **told(message, noted))
    with transaction.atomic():
        done = bool(_changing(columns, is_only).run(**changed))
        if done:
            record(verb=verb, actor=SYSTEM, **told(message, noted))
    return done


@once
def _changing_noted(columns: tuple[str, ...], is_only: bool) -> Statement:
    return noting(_changing(columns, is_only))


@once
def _changing(columns: tuple[str, ...], is_only: bool = False) -> Statement:
    """`is_only`: not where an older link has to be ended with it."""
    # Uncertain as well: the sweeper that was thought lost comes back and knows what really happened.
    field = DueMessage._meta.get_field
    held = DueMessage.objects.filter(
        pk=Blank("held_pk", field("id")),
        attempt=Blank("held_attempt", field("attempt")),
        state__in=[State.HANDING_OVER, State.UNCERTAIN],
    )
    if is_only:
        held = held.exclude(Exists(links.others_alike()))
    return update(held, **blanks(DueMessage, *columns))
