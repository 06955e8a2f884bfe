"""Run as a program of its own, so that a race is one between processes: `prepare`, `sign AT`, `look`."""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys
import time

import django

django.setup()

from clinic.documents import rendering  # noqa: E402  (models exist only now)
from clinic.documents.jobs import Drawing  # noqa: E402
from clinic.patients.models import Patient  # noqa: E402
from clinic.trail.actor import Actor  # noqa: E402
from tests.cast import open_practice  # noqa: E402
from tests.whitening import course  # noqa: E402
from whitening.cases.actions import CaseClosed  # noqa: E402
from whitening.cases.models import Case  # noqa: E402
from whitening.consent.actions import CannotSign, sign  # noqa: E402
from whitening.consent.models import PhotoChoice, Signature  # noqa: E402


def quick(*, identifier: str, **_rest: object) -> Drawing:
    """What is raced for is the row; how long a sheet takes to draw is not the matter."""
    return Drawing(pdf=f"%PDF {identifier}".encode(), pages=1, undrawn="")


def sign_at(starts_at: float) -> str:
    case = Case.objects.select_related("site", "patient").get()
    given = course.pen(case)
    patient = Patient.objects.get()
    actor = Actor(kind="patient", id=str(patient.pk), name=patient.name)
    time.sleep(max(0.0, starts_at - time.time()))
    try:
        sign(case=case, given=given, actor=actor, now=course.SIGNED_AT)
    except (CannotSign, CaseClosed) as refused:
        return str(refused)
    return "signed"


def main(command: str, *words: str) -> None:
    rendering.draw = quick  # type: ignore[assignment]  # another signature, on purpose
    answer: object = None
    if command == "prepare":
        course.ready_to_sign(open_practice())
    elif command == "sign":
        answer = sign_at(float(words[0]))
    else:
        answer = {"signatures": Signature.objects.count(), "choices": PhotoChoice.objects.count()}
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
