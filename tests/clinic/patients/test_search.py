"""Finding somebody while typing: what the desk hears on the telephone finds the person."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.patients.models import Patient
from clinic.patients.search import find
from tests.cast import Cast
from tests.clinic.patients.people import registered


@pytest.fixture
def register(cast: Cast) -> dict[str, Patient]:
    rows = {
        "amara": cast.patient,
        "lukasz": registered(cast, "Łukasz Müller", birth_on=date(1988, 12, 3), phone="+447700900123"),
        "obrien": registered(cast, "Siobhán O’Brien", email="siobhan.ob@example.org"),
        "omar": registered(cast, "عمر الحدّاد", birth_on=date(1975, 2, 28)),
        "brian": registered(cast, "Brian Oakes", preferred_name="Bri"),
        "ozge": registered(cast, "Özge Işık"),
    }
    assert cast.stranger.site == cast.alderton
    return rows


@pytest.mark.parametrize(
    ("asked", "who"),
    [
        ("ama", "amara"),  # not finished yet
        ("nwosu amara", "amara"),  # the other way round
        ("amaar nwosu", "amara"),  # letters swapped
        ("nowsu", "amara"),  # swapped at the very beginning
        ("wnosu", "amara"),
        ("lukasz", "lukasz"),
        ("ŁUKASZ MULLER", "lukasz"),
        ("obrien", "obrien"),
        ("o'brien", "obrien"),
        ("o brien", "obrien"),
        ("siobhan", "obrien"),
        ("عمر", "omar"),
        ("الحداد", "omar"),
        ("bri oakes", "brian"),
        ("ozge isik", "ozge"),
        ("ÖZGE IŞIK", "ozge"),
        # Telephone: as people say it, as it is kept, a part of it.
        ("07700 900123", "lukasz"),
        ("+44 7700 900123", "lukasz"),
        ("+44 (0)7700 900123", "lukasz"),
        ("0044 7700900123", "lukasz"),
        ("900123", "lukasz"),
        ("٠٧٧٠٠ ٩٠٠١٢٣", "lukasz"),
        # E-mail.
        ("amara@", "amara"),
        ("AMARA@EXAMPLE.ORG", "amara"),
        ("siobhan.ob", "obrien"),
        # Date of birth.
        ("3 12 1988", "lukasz"),
        ("03/12/1988", "lukasz"),
        ("3.12.1988", "lukasz"),
        ("1988-12-03", "lukasz"),
        ("3 Dec 1988", "lukasz"),
        ("28 2 1975", "omar"),
    ],
)
def test_it_works(cast: Cast, register: dict[str, Patient], asked: str, who: str) -> None:
    assert find(asked=asked, user=cast.desk)[0] == register[who]


@pytest.mark.parametrize(
    "asked", ["", "  ", "\x00", "zzz", "nobody@example.org", "9999999", "000", "31 2 1988", "a\x00b\x00c", "%", "_"]
)
def test_nobody(cast: Cast, register: dict[str, Patient], asked: str) -> None:
    assert register
    assert find(asked=asked, user=cast.desk) == []


def test_other_site(cast: Cast, register: dict[str, Patient]) -> None:
    assert register
    assert find(asked="Søren", user=cast.desk) == []
    assert find(asked="soren", user=cast.elsewhere_desk) == [cast.stranger]


def test_somebody_with_two_roles_finds_each_person_once(cast: Cast) -> None:
    cast.desk.memberships.create(site=cast.fernbrook, role="assistant")
    assert cast.patient.site == cast.fernbrook
    assert find(asked="amara", user=cast.desk) == [cast.patient]


def test_a_merged_row_is_not_found(cast: Cast) -> None:
    kept = registered(cast, "Amara Nwosu-Bell")
    Patient.objects.filter(pk=cast.patient.pk).update(merged_into=kept, merged_at=cast.patient.registered_at)
    assert find(asked="amara", user=cast.desk) == [kept]


def test_words_that_begin_a_name_come_first(cast: Cast) -> None:
    for name in ("Joanna Reed", "Hannah Reed", "Anna Reed"):
        registered(cast, name)
    assert [one.name for one in find(asked="anna", user=cast.desk)] == ["Anna Reed", "Hannah Reed", "Joanna Reed"]


@pytest.mark.parametrize("count", [2, 40])
def test_queries_do_not_grow(cast: Cast, count: int) -> None:
    for number in range(count):
        registered(cast, f"Ana Reed {number}")
    for asked in ("ana", "aan", "nobody", "900123", "1 1 1980", "a@b"):
        with CaptureQueriesContext(connection) as asked_for:
            found = find(asked=asked, user=cast.desk)
        assert len(asked_for) <= 6
        assert len(found) <= 10
