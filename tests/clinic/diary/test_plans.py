"""At a hundred thousand patients, visits and claims, pages and searches ask by indexes alone."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from functools import partial
from itertools import count
from typing import Any
from uuid import UUID

import pytest
from django.db import connection
from django.urls import reverse

from benchmarks import crowd
from clinic.diary.models import Resource, VisitCode
from clinic.diary.openings import Wanted, find, find_days
from clinic.patients.fields import TRIGRAMS, WORDS
from clinic.patients.models import Patient
from clinic.patients.rules import Identity
from clinic.patients.search import find as find_patients
from clinic.patients.search import likely_duplicates
from tests.cast import NOW, Cast, sign_in
from tests.clinic.diary.house import DAY, another_patient, at, book, visit
from tests.plans import Asked, asked

ROWS = 100_000
LARGE = ("clinic_patients_patient", "clinic_patients_namekey", "clinic_diary_booking", "resource_claim")
# Walked along from its end, and left after a page.
LATEST = ("patient_by_registered",)
TYPED = ["a", "be", "bra", "shai", "brai sha", "ha mou", "xqzv", "brai shaimuo", "07123", "4471 23", "p77@", "1 1 1960"]


# Whoever runs beside others, and after them, fills its tables slowly.
@pytest.mark.timeout(900)
def test_nothing_is_read_through(diary: Cast) -> None:
    fill(diary)
    found: dict[str, Asked] = {}
    for name, step in steps(diary).items():
        with asked() as found[name]:
            step()
        assert found[name].statements, name
    through = {name: one.read_through(LARGE, but=LATEST) for name, one in found.items()}
    assert {name: statements for name, statements in through.items() if statements} == {}


def test_a_table_that_is_read_through_is_seen(cast: Cast) -> None:
    with asked() as all_of_them:
        list(Patient.objects.order_by("address"))
    assert len(all_of_them.read_through(LARGE)) == 1
    assert cast.fernbrook.patients.count() == 0


def steps(diary: Cast) -> dict[str, Callable[[], object]]:
    client, day, patient = sign_in(diary.desk), {"day": DAY.isoformat()}, another_patient(diary, ROWS)
    typed = [*TYPED, str(Patient.objects.earliest("registered_at"))]
    within: dict[str, Any] = {"earliest_at": NOW, "latest_at": NOW + timedelta(days=90)}
    wanted = Wanted(visit(), now=NOW)
    free = find(site=diary.fernbrook, wanted=wanted, **within, limit=1).found[0].start_at
    pages = {
        "day": reverse("diary_day", kwargs=day),
        "day by person": reverse("diary_day", kwargs=day) + "?by=person",
        "week": reverse("diary_week", kwargs=day),
        "register": reverse("patients"),
    }
    return {
        **{name: partial(client.get, address) for name, address in pages.items()},
        "poll": partial(client.get, pages["day"], headers={"If-None-Match": '"another"'}),
        "openings": partial(find_days, site=diary.fernbrook, wanted=wanted, **within),
        "book": partial(book, diary, free, patient=patient),
        "look-alikes": partial(
            likely_duplicates,
            identity=Identity("Brai Shai", date(1960, 1, 1), "447123456789", "p77@example.org"),
            site=diary.fernbrook,
        ),
        **{f"find {text}": partial(find_patients, asked=text, user=diary.desk) for text in typed},
    }


def fill(diary: Cast) -> None:
    """A year of round-the-clock visits up to a week ahead, each with one claim."""
    with crowd.in_bulk(connection):
        crowd.add_patients(connection, ROWS, site=diary.fernbrook.pk)
    people = list(Patient.objects.values_list("pk", flat=True)[:1000])
    resources, kind = list(Resource.objects.values_list("pk", flat=True)), visit(VisitCode.REVIEW).pk
    numbers = count(1_000_000)
    quarter, until = timedelta(minutes=15), at(0) + timedelta(days=7)
    stretches: list[tuple[int, int, int, datetime]] = [
        (
            next(numbers),
            people[number % 1000],
            resources[number % len(resources)],
            until - quarter * (1 + number // len(resources)),
        )
        for number in range(ROWS)
    ]
    crowd.copy(
        connection,
        "clinic_diary_booking",
        crowd.BOOKING,
        (
            crowd.booking(pk, diary.fernbrook.pk, patient, kind, start_at, start_at + quarter, UUID(int=pk))
            for pk, patient, _resource, start_at in stretches
        ),
    )
    with crowd.unguarded(connection):
        crowd.copy(
            connection,
            "resource_claim",
            crowd.CLAIM,
            (
                (pk, resource, "room", "all", start_at, start_at + quarter, True)
                for pk, _p, resource, start_at in stretches
            ),
        )
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            for index in (TRIGRAMS, WORDS):
                cursor.execute("SELECT gin_clean_pending_list(%s)", [index])
        cursor.execute("ANALYZE")
