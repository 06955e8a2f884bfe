"""The index of trigrams stands after every migrate, follows every change, and its lack does not go unnoticed."""

from typing import Any

import pytest
from django.apps import apps
from django.core import checks
from django.db import connection

from clinic.patients import trigrams
from clinic.patients.models import Patient
from clinic.patients.search import find
from clinic.trail.checks import guards_being_mended
from tests.cast import Cast

SQLITE = connection.vendor == "sqlite"
LACKS = ["TRIGGER patient_trigrams_update"] if SQLITE else ["INDEX patient_trigrams", "INDEX patient_words"]


def mend() -> None:
    # PostgreSQL makes no index while something is still to be checked.
    connection.check_constraints()
    trigrams.ensure(apps.get_app_config("clinic_patients"), "default")


def lacks() -> list[Any]:
    found = checks.run_checks(tags=[checks.Tags.database], databases=["default"])
    return [one for one in found if one.id == "clinic_patients.E001"]


def sql(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)


@pytest.mark.parametrize("text", ["  zora  quill ", "% _ \" ' \\ "])
def test_it_follows_whoever_writes(cast: Cast, text: str) -> None:
    patient, rows = cast.patient, Patient.objects.filter(search_text__holds=text)
    assert not rows.exists()
    Patient.objects.filter(pk=patient.pk).update(search_text=text)
    assert list(rows.all()) == [patient]
    assert not Patient.objects.filter(search_text__holds="nwosu").exists()
    Patient.objects.filter(pk=patient.pk).delete()
    assert not rows.exists()


@pytest.mark.parametrize("lack", LACKS)
def test_its_lack_is_told_and_mended(cast: Cast, lack: str) -> None:
    patient = cast.patient
    assert lacks() == []
    sql(f"DROP {lack}")
    # Meanwhile nobody tells the index of a change.
    Patient.objects.filter(pk=patient.pk).update(search_text="  tamara  quill ")
    assert len(lacks()) == 1
    with guards_being_mended():
        assert lacks() == []
    mend()
    assert lacks() == []
    assert Patient.objects.filter(search_text__holds="tamara").exists()
    assert not Patient.objects.filter(search_text__holds="nwosu").exists()


def test_twice_is_as_good_as_once(cast: Cast) -> None:
    patient = cast.patient
    mend()
    assert find(asked="nwos", user=cast.desk) == [patient]
