"""What is done about a consent, in the trail of its case."""

from collections.abc import Mapping

from clinic.trail.actor import Actor
from clinic.trail.record import record
from whitening.cases.models import Case


def note(verb: str, case: Case, actor: Actor, values: Mapping[str, object]) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("case", case.pk),
        patient_id=case.patient_id,
        site_id=case.site_id,
        values=values,
    )
