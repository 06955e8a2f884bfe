"""Destroying a patient's key: the values are gone, the trail still holds."""

from pathlib import Path

import pytest
from django.conf import settings

from clinic.trail import clock, erasure, keys, sealing
from clinic.trail.erasure import Unreadable
from clinic.trail.report import Findings
from clinic.trail.values_check import check_values
from clinic.trail.verify import verify
from tests.clinic.trail.writing import PATIENT, note, unguarded

pytestmark = pytest.mark.django_db
VALUES = {"phone": "+44 7700 900123"}


def key_files() -> list[str]:
    return sorted(file.name for file in Path(settings.KEYS_DIR).glob("[!.]*"))


def test_it_works() -> None:
    mine, other, practice = note(actor=PATIENT), note(patient_id=42), note(patient_id=None)
    sealing.anchor_tick(clock.real_now())
    assert erasure.destroy_patient_key(41) is True
    assert erasure.reveal(mine) is Unreadable.ERASED
    assert erasure.actor_name(mine) is Unreadable.ERASED
    assert (erasure.reveal(other), erasure.reveal(practice)) == (VALUES, VALUES)
    assert verify(anchor_dir=Path(settings.TRAIL_ANCHOR_DIR)).holds


def test_a_second_time_changes_nothing() -> None:
    note()
    assert [erasure.destroy_patient_key(41), erasure.destroy_patient_key(41)] == [True, False]


def test_a_patient_without_values_has_nothing_to_destroy() -> None:
    assert erasure.destroy_patient_key(43) is False
    assert key_files() == []


def test_no_byte_of_the_key_is_left_in_the_folder() -> None:
    note()
    path = Path(settings.KEYS_DIR) / "patient-41.key"
    token = path.read_bytes()
    erasure.destroy_patient_key(41)
    assert key_files() == ["patient-41.destroyed"]
    assert token not in (Path(settings.KEYS_DIR) / "patient-41.destroyed").read_bytes()


def test_what_is_recorded_afterwards_gets_a_new_key_that_can_be_destroyed_too() -> None:
    before = note()
    erasure.destroy_patient_key(41)
    after = note()
    assert (erasure.reveal(before), erasure.reveal(after)) == (Unreadable.ERASED, VALUES)
    erasure.destroy_patient_key(41)
    assert (erasure.reveal(before), erasure.reveal(after)) == (Unreadable.ERASED, Unreadable.ERASED)


def test_a_destruction_cut_short_counts_as_done(monkeypatch: pytest.MonkeyPatch) -> None:
    entry = note()

    def power_cut(_path: Path) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr("clinic.trail.durable.shred", power_cut)
        with pytest.raises(KeyboardInterrupt):
            erasure.destroy_patient_key(41)
    assert erasure.reveal(entry) is Unreadable.ERASED
    assert erasure.reveal(note()) == VALUES
    assert erasure.reveal(entry) is Unreadable.ERASED


def test_a_missing_folder_of_keys_is_not_called_erased() -> None:
    entry = note()
    (Path(settings.KEYS_DIR) / "patient-41.key").unlink()
    assert erasure.reveal(entry) is Unreadable.KEY_MISSING


def test_altered_values_are_not_shown() -> None:
    entry, other = note(), note(values={"phone": "+44 7700 900999"})
    with unguarded("trail_entry") as cursor:
        cursor.execute("UPDATE trail_entry SET sealed_values = %s WHERE id = %s", [other.sealed_values, entry.pk])
    entry.refresh_from_db()
    with pytest.raises(erasure.ValuesAltered):
        erasure.reveal(entry)


def test_values_are_opened_on_request_and_counted() -> None:
    note()
    note(patient_id=42)
    note(patient_id=43)
    note(patient_id=None)
    erasure.destroy_patient_key(42)
    (Path(settings.KEYS_DIR) / "patient-43.key").unlink()
    findings = Findings()
    report = check_values(findings)
    assert (report.opened, report.erased, report.key_missing, findings.count) == (2, 1, 1, 0)


def test_two_processes_that_make_a_key_at_once_end_with_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both found no file; the one that comes second takes the first one's key and replaces nothing."""
    find, looks = keys.find, iter([None])

    def find_nothing_at_first(patient_id: int | None) -> keys.HeldKey | None:
        return next(looks, find(patient_id))

    winner = keys.held(41)
    monkeypatch.setattr(keys, "find", find_nothing_at_first)
    assert keys.held(41) == winner
    assert find(41) == winner
