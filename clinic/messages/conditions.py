"""Whether a message may go out now: everything is read again right before the hand-over."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import phonenumbers
from django.conf import settings
from phonenumbers import PhoneNumberType

from clinic.accounts.phones import is_given
from clinic.messages import kinds, paper
from clinic.messages.actions.planning import NEXT_TRY
from clinic.messages.channels import text
from clinic.messages.closed import closed_days
from clinic.messages.kinds import Kind, Recipient
from clinic.messages.limits import GONE_OUT, others
from clinic.messages.models import DueMessage, State, Why
from clinic.messages.rules import Reach, capped_until, channel_for, is_refused, next_open_day, only_bounced
from clinic.messages.text_replies import are_held_back
from clinic.messages.timing import Hours, allowed_from
from clinic.patients.contact import Contact, contact
from clinic.patients.models import Patient, Purpose

SETUP_PAUSE = timedelta(minutes=10)
# Until another message to the same patient has gone out, or has not.
MOMENT = timedelta(seconds=20)
LIMITED = "waits: no more than one message a day and three a week"


@dataclass(frozen=True, slots=True, kw_only=True)
class Send:
    kind: Kind[Any]
    subject: Any
    patient: Patient
    recipient: Recipient
    channel: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """Not sent, for good. With `why`, a person calls instead."""

    state: State
    reason: str
    why: Why | None = None
    channel: str = ""
    # Until then a letter may say it instead of the call.
    post_by: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """Not now: at another moment of the practice's clock, or (without one) after a pause of real time."""

    reason: str
    due_at: datetime | None = None
    pause: timedelta = SETUP_PAUSE


Verdict = Send | Drop | Wait


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What was read of a message together with others, and still holds."""

    subject: Any
    chosen: Contact
    # Whether there is anything else that may count against the patient's limits.
    has_others: bool = True


def judge(message: DueMessage, *, now: datetime, known: Known | None = None) -> Verdict:
    try:
        kind = kinds.get(message.kind)
    except kinds.UnknownKind:
        return Drop(state=State.FAILED, reason="nobody knows this kind of message any more")
    if now >= message.not_after:
        return missed(kind, "too late to send")
    subject = kind.load(message.subject_id) if known is None else known.subject
    if subject is None:
        return Drop(state=State.CANCELLED, reason="what it was about is gone")
    patient = surviving(message.patient)
    if patient.died_on is not None:
        return Drop(state=State.CANCELLED, reason="the patient has died")
    wanted = kind.still_wanted(subject, message, now)
    if wanted is not True:
        return Drop(state=State.CANCELLED, reason=wanted or "no longer wanted")
    return _may(kind, subject, message, patient, known, now)


def _may(
    kind: Kind[Any], subject: Any, message: DueMessage, patient: Patient, known: Known | None, now: datetime
) -> Verdict:
    foreign = kind.recipient(subject, message) if kind.recipient is not None else None
    if kind.recipient is not None and foreign is None:
        return Drop(state=State.CANCELLED, reason="there is nobody to tell")
    chosen = None
    if foreign is None and not kind.despite_choices:
        chosen = known.chosen if known is not None else contact(patient)
    if chosen is not None and not chosen.allowed[Purpose(kind.purpose)]:
        return _unwanted(kind, "the patient does not want such messages")
    waits = _wait(kind, message, patient, now, has_others=known is None or known.has_others)
    if waits is not None:
        return waits
    recipient = foreign or _themselves(patient)
    preferred = "email" if foreign is not None else patient.channel
    reach = _reach(kind, message, recipient, preferred, patient, chosen)
    channel = channel_for(reach)
    if channel:
        return Send(kind=kind, subject=subject, patient=patient, recipient=recipient, channel=channel)
    if is_asked_elsewhere(kind, message):
        return Drop(state=State.CANCELLED, reason="there is no other way to write to this person")
    if is_refused(reach):
        return _unwanted(kind, "the patient does not want such messages in the ways there are")
    if foreign is not None:
        return Drop(state=State.FAILED, reason="the colleague has no address to write to")
    return _by_hand(patient, reach, paper.post_by(kind, subject, message, patient, now=now))


def _unwanted(kind: Kind[Any], reason: str) -> Drop:
    return Drop(state=State.CANCELLED, reason=reason, why=Why.OPTED_OUT if kind.becomes_call else None)


def is_unwanted(message: DueMessage, kind: Kind[Any], patient: Patient, chosen: Contact) -> bool:
    """By what the patient has chosen it will not go out any more, and nobody calls in its place."""
    if kind.becomes_call or kind.despite_choices or kind.recipient is not None:
        return False
    return is_opted_out(kind, chosen) or is_refused(
        _reach(kind, message, _themselves(patient), patient.channel, patient, chosen)
    )


def is_opted_out(kind: Kind[Any] | None, chosen: Contact) -> bool:
    """Of the whole purpose, and not only of a way: then nobody calls about it either."""
    if kind is None or kind.becomes_call or kind.despite_choices or kind.recipient is not None:
        return False
    return not chosen.allowed[Purpose(kind.purpose)]


def _wait(
    kind: Kind[Any], message: DueMessage, patient: Patient, now: datetime, *, has_others: bool
) -> Wait | Drop | None:
    if kind.link is not None and not message.site.can_send_links:
        return Wait(reason="Set-up lacks the telephone or the emergency, poison-advice or out-of-hours number")
    if kind.on_request:
        return None
    zone, hours = _zone(kind, message, patient), hours_of_day()
    later = allowed_from(now, zone=zone, hours=hours)
    if not kind.safety:
        open_at = next_open_day(later, closed_days=closed_days(message.site, now.year), zone=zone, hours=hours)
        # A closed day never makes a message miss its time: it then goes out on the closed day.
        later = open_at if open_at < message.not_after else later
    if later != now:
        return _later(kind, message, later, "waits for the hours and days on which messages go out")
    return _limited(kind, message, patient, zone, now) if kind.keeps_limits and has_others else None


def _limited(
    kind: Kind[Any], message: DueMessage, patient: Patient, zone: ZoneInfo, now: datetime
) -> Wait | Drop | None:
    """No more than one message a day and three a week, also where several sweeps run side by side.

    Each says that it is handing over before it looks whether another is, so of two that meet at least one sees the
    other. The younger row then counts the older as sent. The older cannot know whether the younger has seen it, and
    asks again in a moment, when that has been settled.
    """
    found = others(message, patient, now)
    if any(one.is_going and one.pk > message.pk for one in found):
        return Wait(reason=LIMITED, pause=MOMENT)
    free_at = capped_until(sent_at=[one.at for one in found], now=now, zone=zone)
    return _later(kind, message, free_at, LIMITED) if free_at is not None else None


def _zone(kind: Kind[Any], message: DueMessage, patient: Patient) -> ZoneInfo:
    """Whose night it is: the patient's own, where they live elsewhere."""
    is_theirs = bool(patient.timezone) and kind.recipient is None
    return ZoneInfo(patient.timezone) if is_theirs else message.site.zone


def _later(kind: Kind[Any], message: DueMessage, due_at: datetime, reason: str) -> Wait | Drop:
    if due_at >= message.not_after or kind.urgent:
        return missed(kind, "no allowed moment was left before it was too late")
    return Wait(reason=reason, due_at=due_at)


def missed(kind: Kind[Any], reason: str) -> Drop:
    return Drop(state=State.MISSED, reason=reason, why=Why.MISSED if kind.becomes_call else None)


def hours_of_day() -> Hours:
    return Hours(settings.MESSAGES_FROM_HOUR, settings.MESSAGES_UNTIL_HOUR)


def surviving(patient: Patient) -> Patient:
    """A merged row stays in place as an alias; the person is reached through the row it points to."""
    seen = {patient.pk}
    while patient.merged_into is not None and patient.merged_into_id not in seen:
        patient = patient.merged_into
        seen.add(patient.pk)
    return patient


def other_channel(message: DueMessage, kind: Kind[Any], subject: Any) -> str:
    """Where a failed message could still go: a channel that was not tried for it yet."""
    patient = surviving(message.patient)
    foreign = kind.recipient(subject, message) if kind.recipient is not None else None
    chosen = contact(patient) if foreign is None and not kind.despite_choices else None
    return channel_for(_reach(kind, message, foreign or _themselves(patient), message.channel, patient, chosen))


def unused_channel(message: DueMessage, kind: Kind[Any]) -> str:
    """On which channel a further step would ask now; "" where the patient gave no other or wants no such messages."""
    patient = surviving(message.patient)
    chosen = contact(patient)
    if not chosen.allowed[Purpose(kind.purpose)]:
        return ""
    return channel_for(_reach(kind, message, _themselves(patient), patient.channel, patient, chosen))


def _reach(
    kind: Kind[Any],
    message: DueMessage,
    recipient: Recipient,
    preferred: str,
    patient: Patient,
    chosen: Contact | None,
) -> Reach:
    """`chosen` is None where choices do not count: a colleague, or what was asked for in that very moment."""
    written, are_on = preferred in ("email", "text"), text.is_on()
    return Reach(
        preferred=preferred if written or not kind.despite_choices else "email",
        email=recipient.email,
        email_bounced=kind.recipient is None and patient.email_bounced_at is not None,
        phone_takes_texts=are_on
        and (kind.recipient is not None or patient.phone_wrong_at is None)
        and takes_texts(recipient.phone),
        texts_on=are_on and (kind.recipient is not None or not are_held_back(message.site)),
        tried=_tried(message) | (_used_before(message) if is_asked_elsewhere(kind, message) else frozenset()),
        refused=chosen.refused_ways(Purpose(kind.purpose)) if chosen is not None else frozenset(),
    )


def is_asked_elsewhere(kind: Kind[Any], message: DueMessage) -> bool:
    """A further asking after silence, which must not go out where the first one went."""
    return kind.later_steps_elsewhere and message.step % NEXT_TRY > 0


def _used_before(message: DueMessage) -> frozenset[str]:
    """Channels on which an earlier step went out, or could not."""
    rows = DueMessage.objects.about(message.subject).filter(
        kind=message.kind, version=message.version, state__in=[*GONE_OUT, State.FAILED, State.BOUNCED]
    )
    return frozenset(row.channel for row in rows if row.step % NEXT_TRY < message.step % NEXT_TRY)


def _tried(message: DueMessage) -> frozenset[str]:
    """Channels on which this message, or an earlier try of it, failed or came back."""
    if message.step < NEXT_TRY and not message.channel:
        # The first try, which has not been anywhere yet: most messages, so that nobody is asked for them.
        return frozenset()
    failed = DueMessage.objects.about(message.subject).filter(
        kind=message.kind, version=message.version, state__in=[State.FAILED, State.BOUNCED]
    )
    same = [row for row in failed if row.step % NEXT_TRY == message.step % NEXT_TRY]
    return frozenset(row.channel for row in same)


def _by_hand(patient: Patient, reach: Reach, post_by: datetime | None) -> Drop:
    """`post_by`: whoever wants a call is called; a letter goes to whoever wants one, or gave nothing else."""
    if patient.channel in ("phone", "letter"):
        by = post_by if patient.channel == "letter" else None
        reason = "for a person to do"
        return Drop(state=State.HANDED_OVER, reason=reason, why=Why.PREFERS, channel=patient.channel, post_by=by)
    if only_bounced(reach):
        return Drop(state=State.FAILED, reason="mail to the address comes back", why=Why.BOUNCED)
    held_back = text.is_on() and reach.phone_takes_texts and not reach.texts_on
    reason = "texts are held back at this site" if held_back else "no e-mail or mobile number to write to"
    return Drop(state=State.FAILED, reason=reason, why=Why.NO_CHANNEL, post_by=post_by)


def _themselves(patient: Patient) -> Recipient:
    return Recipient(name=patient.called, email=patient.email, phone=_e164(patient), language=patient.language)


def _e164(patient: Patient) -> str:
    return str(patient.phone.as_e164) if is_given(patient.phone) else ""


def takes_texts(phone: str) -> bool:
    if not phone:
        return False
    try:
        number = phonenumbers.parse(phone)
    except phonenumbers.NumberParseException:
        return False
    return phonenumbers.number_type(number) != PhoneNumberType.FIXED_LINE
