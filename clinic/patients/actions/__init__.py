"""What people do in the register. One function for each."""

from clinic.patients.actions.joining import merge_patients
from clinic.patients.actions.parting import part_patients
from clinic.patients.actions.registering import (
    BirthInTheFuture,
    ChangedMeanwhile,
    Details,
    allowed_purposes,
    change_patient,
    choose_contact,
    details_of,
    note_death,
    note_move,
    number_is_right,
    number_is_wrong,
    register_patient,
    take_death_back,
    take_move_back,
)

__all__ = [
    "BirthInTheFuture",
    "ChangedMeanwhile",
    "Details",
    "allowed_purposes",
    "change_patient",
    "choose_contact",
    "details_of",
    "merge_patients",
    "note_death",
    "note_move",
    "number_is_right",
    "number_is_wrong",
    "part_patients",
    "register_patient",
    "take_death_back",
    "take_move_back",
]
