"""What somebody is written about, and how: chosen by the patient, or by staff on the patient's word."""

from collections.abc import Collection, Mapping
from datetime import datetime

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext_lazy as _

from clinic.messages import kinds
from clinic.messages.actions.byhand import call_off
from clinic.messages.actions.planning import stop_waiting
from clinic.messages.conditions import is_opted_out, is_unwanted
from clinic.messages.models import Call, DueMessage, Outcome
from clinic.patients.actions import choose_contact
from clinic.patients.contact import Contact, contact
from clinic.patients.models import WRITTEN, Channel, Patient, Purpose
from clinic.patients.person import hold_person
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal


class ChosenMeanwhile(Refusal):
    code = "messages.chosen_meanwhile"
    sentence = _(
        "The choices of this patient were changed while you were typing. What holds now stands beside the form; "
        "save again to keep yours."
    )


class NoWayLeft(Refusal):
    code = "messages.no_way_left"
    sentence = _("All texts are ended for this patient. Allow them for something, or choose another way to reach them.")


def choose(
    *,
    patient: Patient,
    channel: Channel,
    choices: Mapping[Purpose, bool],
    wordings: Mapping[Purpose, str],
    actor: Actor,
    now: datetime,
) -> None:
    """Keeps proof of what changed; a choice that was left as it stood is not written again.

    What still waits and is not wanted any more is cancelled with it; what is about harm becomes a call at its time.
    """
    with transaction.atomic():
        held = hold_person(patient)
        _choose_purposes(held, contact(held), choices, wordings, actor, now)
        _reach_by(held, channel, actor)
        stop_unwanted(patient=held, actor=actor, now=now)


def choose_ways(
    *,
    patient: Patient,
    channel: Channel,
    ways: Mapping[Purpose, Collection[Channel]],
    wordings: Mapping[Purpose, str],
    seen: str,
    actor: Actor,
    now: datetime,
) -> None:
    """On the patient's word: for each purpose the ways in which we may write, none of them for "not at all".

    Raises ChosenMeanwhile when `seen` (see `state_of`) is not what holds, NoWayLeft when the patient is to be
    reached by the very way that is ended for everything.
    """
    ended = all(Channel.TEXT not in chosen for chosen in ways.values() if chosen)
    if channel == Channel.TEXT and ended and any(ways.values()):
        raise NoWayLeft
    with transaction.atomic():
        held = hold_person(patient)
        before = contact(held)
        if state_of(held, before) != seen:
            raise ChosenMeanwhile
        _choose_purposes(held, before, {one: bool(chosen) for one, chosen in ways.items()}, wordings, actor, now)
        for way in WRITTEN:
            # "Not at all" says nothing about the ways: they stand as they were.
            wanted = {purpose: way in chosen for purpose, chosen in ways.items() if chosen}
            changed = {one: may for one, may in wanted.items() if may == ((one, way) in before.refused)}
            if changed:
                choose_contact(patient=held, choices=changed, wordings=wordings, actor=actor, now=now, channel=way)
        _reach_by(held, channel, actor)
        stop_unwanted(patient=held, actor=actor, now=now)


def end_texts(*, patient: Patient, wording: str, actor: Actor, now: datetime) -> None:
    """No text about anything. E-mail stays where there is an address; asked twice, it is still one choice."""
    with transaction.atomic():
        held = hold_person(patient)
        before = contact(held)
        if before.texts_ended:
            return
        _all_texts(held, before, allowed=False, wording=wording, actor=actor, now=now)
        if held.channel == Channel.TEXT and held.email and held.email_bounced_at is None:
            _reach_by(held, Channel.EMAIL, actor)
        stop_unwanted(patient=held, actor=actor, now=now)


def allow_texts(*, patient: Patient, wording: str, actor: Actor, now: datetime) -> None:
    """Texts again, about whatever the patient is written to at all. What was cancelled meanwhile stays cancelled."""
    with transaction.atomic():
        held = hold_person(patient)
        _all_texts(held, contact(held), allowed=True, wording=wording, actor=actor, now=now)


def stop_unwanted(*, patient: Patient, actor: Actor, now: datetime) -> int:
    """Cancels what waits for this person, or for a row that was merged into theirs, and is not wanted any more.

    Nor does anybody call about it. What is about harm stays, and so does a call that only stands in for a way.
    """
    chosen, known, theirs = contact(patient), kinds.registered(), DueMessage.objects.of_person(patient)
    stopped = stop_waiting(
        theirs,
        only=lambda row: row.kind in known and is_unwanted(row, known[row.kind], patient, chosen),
        because="the patient does not want such messages",
        actor=actor,
        now=now,
    )
    calls = Call.objects.open().filter(message__in=theirs).select_related("message").order_by("pk")
    over = [call for call in calls if is_opted_out(known.get(call.message.kind), chosen)]
    call_off(over, actor=actor, now=now, outcome=Outcome.UNWANTED)
    return stopped


def state_of(patient: Patient, chosen: Contact) -> str:
    """What somebody has seen who is about to change it."""
    return f"{patient.channel}-{chosen.newest.pk if chosen.newest else 0}"


def _choose_purposes(
    held: Patient,
    before: Contact,
    choices: Mapping[Purpose, bool],
    wordings: Mapping[Purpose, str],
    actor: Actor,
    now: datetime,
) -> None:
    changed = {purpose: allowed for purpose, allowed in choices.items() if allowed != before.allowed[purpose]}
    if changed:
        choose_contact(patient=held, choices=changed, wordings=wordings, actor=actor, now=now)


def _all_texts(held: Patient, before: Contact, *, allowed: bool, wording: str, actor: Actor, now: datetime) -> None:
    changed = {one: allowed for one in Purpose if ((one, Channel.TEXT) in before.refused) == allowed}
    if changed:
        words = dict.fromkeys(changed, wording)
        choose_contact(patient=held, choices=changed, wordings=words, actor=actor, now=now, channel=Channel.TEXT)


def _reach_by(held: Patient, channel: Channel, actor: Actor) -> None:
    if held.channel == channel:
        return
    before, held.channel = held.channel, channel
    Patient.objects.filter(pk=held.pk).update(channel=channel, version=F("version") + 1)
    record(
        verb="patients.changed",
        actor=actor,
        subject=("patient", held.pk),
        patient_id=held.pk,
        site_id=held.site_id,
        values={"channel": {"from": before, "to": str(channel)}},
    )
