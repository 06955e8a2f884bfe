"""Erasing a person: also what was recorded under records that were joined with theirs."""

from clinic.patients.models import Patient
from clinic.patients.person import person_ids
from clinic.trail.erasure import destroy_patient_key


def destroy_keys_of(patient: Patient) -> int:
    """How many keys were destroyed. After the commit of the erasure: it cannot be taken back.

    A joined record keeps its own key: what was recorded under it is never encrypted anew.
    """
    held = patient.merged_into or patient
    return sum(destroy_patient_key(pk) for pk in person_ids(held))
