"""Photographs: four separate choices, each revocable at any time."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case
from whitening.consent.models import PhotoChoice, PhotoUse
from whitening.consent.reading import photo_choices


class NotAllowedAnyway(Refusal):
    code = "consent.photographs_not_allowed_anyway"
    sentence = _("This use was not allowed, so there is nothing to take back.")


def choose_photographs(
    *, case: Case, choices: Mapping[PhotoUse, bool], actor: Actor, now: datetime
) -> list[PhotoChoice]:
    """Keeps each choice as its own row; the newest per use holds. Also after the case is closed."""
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


def take_back_photographs(*, case: Case, use: PhotoUse, actor: Actor, now: datetime) -> PhotoChoice:
    """On the patient's word, by staff: only taking back. A yes is always the patient's own tick."""
    with transaction.atomic():
        if not photo_choices(Case.objects.select_for_update().get(pk=case.pk))[use]:
            raise NotAllowedAnyway
        return choose_photographs(case=case, choices={use: False}, actor=actor, now=now)[0]
