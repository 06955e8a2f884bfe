"""Run as a program of its own, so that a race is one between processes on a database of their own.

`contend PATIENTS ATTEMPTS DAYS`, `duel PATIENTS`, `guard`, `death`: see tests/clinic/diary/test_processes.py.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys
import time
from collections import Counter
from collections.abc import Callable
from functools import partial
from threading import Thread
from typing import Any

import django

django.setup()

from django.core.management import call_command  # noqa: E402  (models exist only now)
from django.db import IntegrityError, connection, models  # noqa: E402

from clinic.diary import actions  # noqa: E402
from clinic.diary.models import COMING, Booking, ResourceClaim, VisitCode, VisitType  # noqa: E402
from clinic.messages.models import DueMessage  # noqa: E402
from clinic.patients.actions import note_death  # noqa: E402
from clinic.patients.models import Patient  # noqa: E402
from clinic.trail.actor import SYSTEM  # noqa: E402
from clinic.trail.models import TrailEntry  # noqa: E402
from tests.at_once import at_once  # noqa: E402
from tests.cast import NOW, open_practice  # noqa: E402
from tests.clinic.diary import pressing  # noqa: E402
from tests.clinic.diary.desks import Desk, offers  # noqa: E402
from tests.clinic.diary.house import another_patient, at, furnish  # noqa: E402

DESKS = 8
# Far longer than a cancellation takes.
WAIT_SECONDS = 10


def prepare(patients: int) -> list[Patient]:
    cast = open_practice()
    furnish(cast)
    VisitType.objects.update(patient_may_book=True)
    asked = VisitType.objects.get(site=cast.fernbrook, code=VisitCode.PROBLEM)
    for number in range(patients):
        patient = another_patient(cast, number)
        # Every other one has a link to pick a time by.
        if number % 2:
            actions.invite(patient=patient, visit_type=asked, user=cast.desk, actor=SYSTEM, now=NOW)
    return list(Patient.objects.select_related("site").order_by("pk"))


def race(desk: Desk, attempts: int) -> dict[str, Any]:
    outcomes: Counter[str] = Counter()
    took: list[float] = []
    for _ in range(attempts):
        began = time.monotonic()
        outcomes[desk.attempt()] += 1
        took.append(time.monotonic() - began)
    return {"outcomes": outcomes, "took": took}


def contend(patients: int, attempts: int, days: int) -> dict[str, Any]:
    some = prepare(patients)
    offered = offers(some[0].site, days=days)
    desks = [Desk(seed, patients=some, offered=offered) for seed in range(DESKS)]
    raced = at_once([partial(race, desk, attempts // DESKS) for desk in desks])
    outcomes = sum((one["outcomes"] for one in raced), Counter[str]())
    took = sorted(second for one in raced for second in one["took"])
    return {"outcomes": outcomes, "took": took, **look()}


def duel(patients: int) -> dict[str, Any]:
    """Desks press for one slot at one moment; what each of them reads."""
    people = prepare(patients)
    pages = [pressing.Page(people[0].site) for _ in people]
    told = at_once([partial(page.press, patient, at(9)) for page, patient in zip(pages, people, strict=True)])
    return {"told": told, **look()}


def _confirmed() -> models.QuerySet[TrailEntry, str]:
    return TrailEntry.objects.filter(verb="diary.confirmed").values_list("subject_id", flat=True)


def look() -> dict[str, Any]:
    claims = ResourceClaim.objects.filter(active=True)
    pairs = claims.filter(
        resource__claims__active=True,
        resource__claims__start_at__lt=models.F("end_at"),
        resource__claims__end_at__gt=models.F("start_at"),
        resource__claims__pk__gt=models.F("pk"),
    )
    return {
        "overlaps": pairs.count(),
        "bookings": Booking.objects.filter(status__in=COMING).count(),
        "claimed": claims.values("booking").distinct().count(),
        # Of a pencilled time either its date came or somebody confirmed it, never both.
        "both": TrailEntry.objects.filter(verb="diary.lapsed", subject_id__in=_confirmed()).count(),
        "idle": claims.exclude(booking__status__in=COMING).count(),
    }


def remake() -> None:
    """As a later migration would: a changed column makes SQLite build the table anew, without its triggers."""
    old = ResourceClaim._meta.get_field("segment")
    new = models.CharField(max_length=90)
    new.set_attributes_from_name("segment")
    new.model = ResourceClaim
    with connection.schema_editor() as editor:
        editor.alter_field(ResourceClaim, old, new)


def second_claim() -> str:
    """Whether a second claim over the first one is refused."""
    claim = ResourceClaim.objects.select_related("booking", "resource").first()
    assert claim is not None
    claim.pk = None
    try:
        claim.save(force_insert=True)
    except IntegrityError:
        return "refused"
    claim.delete()
    return "taken"


def guard() -> list[str]:
    """At first, after the table was remade, and after the next migrate."""
    (patient,) = prepare(1)
    pressing.Page(patient.site).press(patient, at(9))
    told = [second_claim()]
    remake()
    told.append(second_claim())
    call_command("migrate", verbosity=0, skip_checks=True)
    return [*told, second_claim()]


def while_held() -> dict[str, Any]:
    """A desk cancels a visit in the moment in which somebody else notes that the patient has died."""
    (patient,) = prepare(1)
    wish = actions.BookingRequest(patient, VisitType.objects.get(code=VisitCode.CONSULTATION, site=patient.site), at(9))
    booking = actions.book(site=patient.site, request=wish, actor=SYSTEM, now=NOW)
    other = Thread(target=_cancel, args=(booking,))
    waited: list[bool] = []

    def step(execute: Callable[..., Any], sql: str, params: object, many: bool, context: object) -> object:
        answer = execute(sql, params, many, context)
        if not waited and Patient._meta.db_table in sql and "UPDATE" in sql:
            other.start()
            other.join(WAIT_SECONDS)
            waited.append(other.is_alive())
        return answer

    with connection.execute_wrapper(step):
        note_death(patient=patient, actor=SYSTEM, now=NOW)
    other.join()
    booking.refresh_from_db()
    patient.refresh_from_db()
    open_ones = DueMessage.objects.open().filter(patient=patient).count()
    return {"waited": waited, "status": booking.status, "died": patient.died_on is not None, "open": open_ones}


def _cancel(booking: Booking) -> None:
    try:
        actions.cancel(booking=booking, by="practice", reason="", actor=SYSTEM, now=NOW)
    finally:
        connection.close()


def main(command: str, *words: str) -> None:
    commands: dict[str, Callable[..., object]] = {"contend": contend, "duel": duel, "guard": guard, "death": while_held}
    json.dump(commands[command](*map(int, words)), sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
