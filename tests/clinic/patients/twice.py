"""One invented person who was registered twice."""

from datetime import date
from typing import Any

from clinic.accounts.models import User
from clinic.patients.actions import merge_patients
from clinic.patients.actions.joining import Choice
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of
from tests.clinic.patients.people import registered

BORN = date(1990, 5, 17)
WHY = "Same address and the same voice."


def second_record(cast: Cast, name: str = "Amara Nwossu", **values: object) -> Patient:
    """Of the cast's own patient, made on another call."""
    given: dict[str, object] = {"birth_on": BORN, "channel": "email", "email": "a.nwosu@example.org"}
    return registered(cast, name, **given | values)


def join(cast: Cast, kept: Patient, other: Patient, *, user: User | None = None, **changed: Any) -> Patient:
    now, by = changed.pop("now", NOW), user or cast.manager
    choice = Choice(**{"reason": WHY} | changed)
    return merge_patients(kept=kept, other=other, choice=choice, user=by, actor=actor_of(by), now=now)
