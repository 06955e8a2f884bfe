"""One person may have been registered twice: what stays with the second record is still theirs."""

from collections.abc import Collection

from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from clinic.patients.models import Patient
from clinic.trail.refusals import Refusal


class JoinedMeanwhile(Refusal):
    code = "patients.joined_meanwhile"
    sentence = _("This record was joined with another one of the same person meanwhile. Open the patient again.")


class NotedAsDied(Refusal):
    code = "patients.noted_as_died"
    sentence = _("The patient is noted as having died. If that is a mistake, take the note back on their page first.")


def of_person(patient: Patient, way: str = "patient") -> Q:
    """Rows of this record, and of those that were joined with it. `way` leads to their patient."""
    return Q(**{way: patient}) | Q(**{f"{way}__merged_into": patient})


def person_ids(patient: Patient) -> list[int]:
    """For what names patients by number alone, such as the trail. One query."""
    return [patient.pk, *patient.aliases.order_by("pk").values_list("pk", flat=True)]


def is_of_person(row_patient_id: int, patient: Patient) -> bool:
    return row_patient_id == patient.pk or patient.aliases.filter(pk=row_patient_id).exists()


def hold_people(keys: Collection[int]) -> None:
    """Several at once, in the order of their keys: two who hold the same people wait in one line."""
    rows = _locking().order_by("pk")
    held = set(keys)
    locked = list(rows.filter(pk__in=held))
    kept = {row.merged_into_id for row in locked if row.merged_into_id is not None} - held
    if kept:
        list(rows.filter(pk__in=kept))


def hold_person(patient: Patient) -> Patient:
    """Locked until the caller's transaction ends, as it stands now; of a joined record the one that is kept.

    Joining points every alias at the record that is kept in the end, so one step is enough.
    """
    held = _locking().get(pk=patient.pk)
    if held.merged_into_id is None:
        return held
    return _locking().get(pk=held.merged_into_id)


def _locking() -> QuerySet[Patient]:
    """Rows that refer to these may be written meanwhile: whoever plans a message holds others that we may want."""
    return Patient.objects.select_for_update(no_key=True)
