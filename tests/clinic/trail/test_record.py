"""Writing an entry: what stays readable, what is sealed, and what is refused."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.exceptions import FieldError
from django.db import IntegrityError, connection, transaction
from pytest_django.fixtures import Settings

from clinic.patients.models import Patient
from clinic.trail import clock, erasure, keys, rows, verbs
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.fields import EncryptedTextField, open_text, seal_text
from clinic.trail.models import TrailEntry
from clinic.trail.readymade import Blank, blanks, update
from clinic.trail.record import DIGEST_PURPOSE, OutsideTransaction, noting, record, record_with
from tests.cast import NOW, Cast
from tests.clinic.trail.writing import PATIENT, note
from tests.support import nothing_written

pytestmark = pytest.mark.django_db
TWO_DAYS = timedelta(days=2)


def two_days_ahead() -> timedelta:
    return TWO_DAYS


def test_it_works() -> None:
    entry = TrailEntry.objects.get(pk=note(values={"phone": "+44 7700 900123", "email": "m@example.org"}).pk)
    assert (entry.verb, entry.actor_kind, entry.actor_id, entry.actor_name) == (
        "tests.noted", "staff", "7", "Lena Ortega",
    )  # fmt: skip
    assert (entry.subject_kind, entry.subject_id, entry.patient_id, entry.site_id) == ("case", "5", 41, 2)
    assert entry.field_names == ["email", "phone"]
    assert entry.clock_shift_seconds == 0
    assert erasure.reveal(entry) == {"phone": "+44 7700 900123", "email": "m@example.org"}


def test_personal_values_appear_in_no_column() -> None:
    note(actor=PATIENT, values={"answer": "Quetzal"})
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM trail_entry")
        row = repr(cursor.fetchall())
    assert "Quetzal" not in row
    assert "Marisol" not in row


def test_a_patient_who_acts_is_named_in_the_sealed_values_alone() -> None:
    entry = note(actor=PATIENT)
    assert entry.actor_name == ""
    assert erasure.actor_name(entry) == "Marisol Quintero"


def test_the_database_refuses_a_patients_name_in_the_open() -> None:
    entry = note()
    entry.pk, entry.actor_kind = None, "patient"
    with nothing_written(), pytest.raises(IntegrityError), transaction.atomic():
        entry.save(force_insert=True)


def test_an_entry_can_be_copied_by_nobody() -> None:
    entry = note()
    entry.pk = None
    with nothing_written(), pytest.raises(IntegrityError), transaction.atomic():
        entry.save(force_insert=True)


def test_an_unknown_verb_is_refused() -> None:
    with nothing_written(), pytest.raises(verbs.UnknownVerb):
        note(verb="tests.never_registered")


def test_outside_a_transaction_it_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    with nothing_written(), monkeypatch.context() as patched:
        patched.setattr(transaction.get_connection(), "in_atomic_block", False)
        with pytest.raises(OutsideTransaction):
            record(verb="tests.noted", actor=SYSTEM, subject=("x", 1), patient_id=None, site_id=None, values={})


def test_a_fact_and_its_entry_in_one_statement(cast: Cast) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite changes one table at a time")
    held = Patient.objects.filter(phone_wrong_at=None, pk=Blank("key", Patient._meta.pk))
    both = noting(update(held, **blanks(Patient, "phone_wrong_at")))
    told: Any = {
        "verb": "tests.noted",
        "actor": SYSTEM,
        "subject": ("case", 5),
        "patient_id": cast.patient.pk,
        "site_id": None,
        "values": {"why": "astray"},
    }
    before = TrailEntry.objects.count()
    done = [record_with(both, {"key": cast.patient.pk, "phone_wrong_at": at}, **told) for at in (NOW, NOW + TWO_DAYS)]
    cast.patient.refresh_from_db()
    assert (done, cast.patient.phone_wrong_at, TrailEntry.objects.count()) == ([True, False], NOW, before + 1)
    entry = TrailEntry.objects.latest("pk")
    assert (entry.verb, entry.subject_id, entry.patient_id, entry.site_id) == (
        "tests.noted",
        "5",
        cast.patient.pk,
        None,
    )
    assert erasure.reveal(entry) == {"why": "astray"}
    secret = keys.derived(DIGEST_PURPOSE)[entry.digest_key]
    assert entry.mac == rows.entry_mac([getattr(entry, column) for column in rows.COLUMNS], secret)


@pytest.mark.parametrize("name", ["", "two words", "naïve", "a=b"])
def test_a_field_name_that_could_hold_a_value_is_refused(name: str) -> None:
    with nothing_written(), pytest.raises(ValueError, match="field name"):
        note(values={name: 1})


@pytest.mark.parametrize("value", [object(), {1, 2}, b"bytes", float("nan"), {1: "x"}])
def test_a_value_without_a_canonical_form_is_refused(value: object) -> None:
    with nothing_written(), pytest.raises((TypeError, ValueError)):
        note(values={"value": value})


def test_the_trail_keeps_real_time_and_notes_the_shift(settings: Settings) -> None:
    settings.CLOCK_SHIFT = f"{__name__}.two_days_ahead"
    with time_machine.travel("2027-03-01T09:00:00Z", tick=False):
        entry = note()
        assert clock.now() - clock.real_now() == TWO_DAYS
        assert entry.at == clock.real_now()
    assert entry.clock_shift_seconds == 172_800


def test_each_patient_has_a_key_file_that_only_we_can_read(settings: Settings) -> None:
    note(patient_id=41)
    note(patient_id=42)
    note(patient_id=None)
    files = sorted(Path(settings.KEYS_DIR).glob("[!.]*"))
    assert [path.name for path in files] == ["installation.key", "patient-41.key", "patient-42.key"]
    assert {path.stat().st_mode & 0o777 for path in files} == {0o600}


def test_equal_values_leave_different_digests() -> None:
    assert note().digest != note().digest


def test_a_kind_of_actor_is_checked() -> None:
    with pytest.raises(ValueError, match="no kind of actor"):
        Actor(kind="robot", id="1", name="")  # type: ignore[arg-type]


def test_the_two_ends_of_the_winter_hour_stay_apart() -> None:
    """Europe/Madrid, 25 October 2026: 02:30 happens twice (IANA tz database)."""
    from_summer = clock.real_now().replace(2026, 10, 25, 0, 30, 0, 0)
    from_winter = from_summer + timedelta(hours=1)
    shown = [clock.local(at, "Europe/Madrid").isoformat() for at in (from_summer, from_winter)]
    assert shown == ["2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+01:00"]


def test_sealed_text_opens_again_and_every_token_differs() -> None:
    tokens = {seal_text("JBSWY3DPEHPK3PXP") for _ in range(3)}
    assert len(tokens) == 3
    assert {open_text(token) for token in tokens} == {"JBSWY3DPEHPK3PXP"}


def test_an_encrypted_field_refuses_to_be_searched() -> None:
    field: EncryptedTextField = EncryptedTextField()
    with pytest.raises(FieldError):
        field.get_lookup("exact")
    assert field.get_lookup("isnull") is not None


def test_an_older_key_of_the_settings_still_opens(settings: Settings) -> None:
    entry, token = note(), seal_text("secret")
    settings.FIELD_KEYS = ["bmV3LWZpZWxkLWtleS1mb3ItdGhlc2UtdGVzdHMtMDE=", *settings.FIELD_KEYS]
    assert erasure.reveal(entry) == {"phone": "+44 7700 900123"}
    assert open_text(token) == "secret"
    assert keys.rewrap_all() == 1
    settings.FIELD_KEYS = settings.FIELD_KEYS[:1]
    assert erasure.reveal(entry) == {"phone": "+44 7700 900123"}
