"""Run as a program of its own, so that a race is one between processes."""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys

import django

django.setup()

from clinic.documents import rendering  # noqa: E402  (models exist only now)
from clinic.documents.jobs import Drawing  # noqa: E402
from clinic.patients.models import Patient  # noqa: E402
from clinic.trail.actor import Actor  # noqa: E402
from tests.at_once import at_once  # noqa: E402
from tests.cast import open_practice  # noqa: E402
from tests.whitening import course  # noqa: E402
from whitening.cases.actions import CaseClosed  # noqa: E402
from whitening.cases.models import Case  # noqa: E402
from whitening.consent.actions import CannotSign, sign  # noqa: E402
from whitening.consent.models import PhotoChoice, Signature  # noqa: E402


def quick(*, identifier: str, **_rest: object) -> Drawing:
    """What is raced for is the row; how long a sheet takes to draw is not the matter."""
    return Drawing(pdf=f"%PDF {identifier}".encode(), pages=1, undrawn="")


def sign_now() -> str:
    case = Case.objects.select_related("site", "patient").get()
    patient = Patient.objects.get()
    actor = Actor(kind="patient", id=str(patient.pk), name=patient.name)
    try:
        sign(case=case, given=course.pen(case), actor=actor, now=course.SIGNED_AT)
    except (CannotSign, CaseClosed) as refused:
        return str(refused)
    return "signed"


def main() -> None:
    rendering.draw = quick  # type: ignore[assignment]  # another signature, on purpose
    course.ready_to_sign(open_practice())
    said = at_once([sign_now] * 2)
    answer = {"said": said, "signatures": Signature.objects.count(), "choices": PhotoChoice.objects.count()}
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main()
