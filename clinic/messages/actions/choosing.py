"""A patient chooses what to be written about, and how."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction
from django.db.models import F

from clinic.patients.actions import allowed_purposes, choose_contact
from clinic.patients.models import Channel, Patient, Purpose
from clinic.trail.actor import Actor
from clinic.trail.record import record


def choose(
    *,
    patient: Patient,
    channel: Channel,
    choices: Mapping[Purpose, bool],
    wordings: Mapping[Purpose, str],
    actor: Actor,
    now: datetime,
) -> None:
    """Keeps proof of what changed; a choice that was left as it stood is not written again."""
    with transaction.atomic():
        held = Patient.objects.select_for_update().get(pk=patient.pk)
        before = allowed_purposes(held)
        changed = {purpose: allowed for purpose, allowed in choices.items() if allowed != before[purpose]}
        if changed:
            choose_contact(patient=held, choices=changed, wordings=wordings, actor=actor, now=now)
        if held.channel != channel:
            Patient.objects.filter(pk=held.pk).update(channel=channel, version=F("version") + 1)
            record(
                verb="patients.changed",
                actor=actor,
                subject=("patient", held.pk),
                patient_id=held.pk,
                site_id=held.site_id,
                values={"channel": {"from": held.channel, "to": str(channel)}},
            )
