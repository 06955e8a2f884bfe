"""Photographs: four separate choices, each revocable at any time."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from clinic.trail.actor import Actor
from clinic.trail.record import record
from whitening.cases.models import Case
from whitening.consent.models import PhotoChoice, PhotoUse


def choose_photographs(
    *, case: Case, choices: Mapping[PhotoUse, bool], actor: Actor, now: datetime
) -> list[PhotoChoice]:
    """Keeps each choice as its own row; the newest per use holds."""
    with transaction.atomic():
        rows = [
            PhotoChoice.objects.create(case=case, use=use, allowed=allowed, chosen_at=now, chosen_by=actor.name)
            for use, allowed in choices.items()
        ]
        if rows:
            record(
                verb="consent.photographs_chosen",
                actor=actor,
                subject=("case", case.pk),
                patient_id=case.patient_id,
                site_id=case.site_id,
                values={str(use): allowed for use, allowed in choices.items()},
            )
    return rows
