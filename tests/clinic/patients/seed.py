"""One person who was registered twice, for the empty database of a world; tests/furnish.py calls it."""

from tests.cast import open_practice
from tests.clinic.patients.twice import second_record


def fill() -> None:
    cast = open_practice()
    assert cast.patient.pk == 1
    assert second_record(cast, allergies="latex").pk == 2
