"""Run as a program of its own, so that a race is one between processes.

`join ROUNDS`, `book ROUNDS`, `joined`: see tests/clinic/patients/test_joining_at_once.py.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys
from functools import partial

import django

django.setup()

from clinic.diary.models import Booking  # noqa: E402  (models exist only now)
from clinic.patients.models import Patient  # noqa: E402
from clinic.trail import clock, sealing  # noqa: E402
from clinic.trail.models import TrailEntry  # noqa: E402
from clinic.trail.refusals import Refusal  # noqa: E402
from tests.at_once import at_once  # noqa: E402
from tests.cast import Cast, open_practice  # noqa: E402
from tests.clinic.diary import house  # noqa: E402
from tests.clinic.patients.twice import join, second_record  # noqa: E402


def try_to_join(cast: Cast, kept: Patient, other: Patient) -> str:
    try:
        join(cast, kept, other)
    except Refusal as refused:
        return refused.code
    return "joined"


def try_to_book(cast: Cast, patient: Patient, hour: int) -> str:
    try:
        house.book(cast, house.at(hour), patient=patient)
    except Refusal as refused:
        return refused.code
    return "booked"


def two_ways(cast: Cast, rounds: int) -> dict[str, object]:
    """The same two records, joined in both directions at one moment."""
    said = []
    for number in range(rounds):
        one, other = second_record(cast, f"One {number}"), second_record(cast, f"Other {number}")
        both = [partial(try_to_join, cast, one, other), partial(try_to_join, cast, other, one)]
        said.append(sorted(at_once(both)))
    return {"said": said, "aliases": Patient.objects.filter(merged_into__isnull=False).count()}


def join_and_book(cast: Cast, rounds: int) -> dict[str, object]:
    """A desk gives the other record a time while a manager joins it."""
    house.furnish(cast)
    said = []
    for number in range(rounds):
        one, other = second_record(cast, f"One {number}"), second_record(cast, f"Other {number}")
        deeds = [partial(try_to_join, cast, one, other), partial(try_to_book, cast, other, 9 + number % 7)]
        said.append(at_once(deeds))
        Booking.objects.filter(patient=one).update(status="cancelled", cancelled_at=clock.real_now())
    left = Booking.objects.filter(patient__merged_into__isnull=False).count()
    return {"said": said, "left_with_an_alias": left}


def joined(cast: Cast, _rounds: int) -> dict[str, object]:
    """One pair, sealed, for a backup."""
    house.furnish(cast)
    other = second_record(cast)
    house.book(cast, house.at(10), patient=other)
    join(cast, cast.patient, other)
    sealing.anchor_tick(clock.real_now())
    return {"kept": cast.patient.pk, "alias": other.pk, "entries": TrailEntry.objects.count()}


def main(what: str, rounds: str = "1") -> None:
    cast = open_practice()
    deeds = {"join": two_ways, "book": join_and_book, "joined": joined}
    json.dump(deeds[what](cast, int(rounds)), sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
