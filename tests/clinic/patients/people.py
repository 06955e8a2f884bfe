"""Invented people of the register, and what is typed into its form."""

from datetime import date

from clinic.patients.actions import Details, register_patient
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of

# What somebody types for a new patient, all of it right.
TYPED = {
    "name": "Łukasz Müller",
    "preferred_name": "Luki",
    "birth_on": "3 12 1988",
    "phone": "020 7946 0123",
    "email": "luki@example.org",
    "address": "2 Mill Lane\nFernbrook",
    "language": "de",
    "interpreter_language": "",
    "allergies": "latex",
    "own_dentist": "",
    "channel": "email",
}


def registered(cast: Cast, name: str, **values: object) -> Patient:
    given: dict[str, object] = {"birth_on": date(1980, 1, 1), "channel": "letter"}
    details = Details(name=name, **given | values)  # type: ignore[arg-type]  # a test names only what it is about
    return register_patient(site=cast.fernbrook, details=details, user=cast.desk, actor=actor_of(cast.desk), now=NOW)
