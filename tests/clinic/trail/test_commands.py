"""The commands and the worker's two tasks: what they do, and what they say."""

from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from clinic.trail import access, erasure, tasks
from clinic.trail.models import AccessEntry, AccessSeal, TrailSeal
from tests.clinic.trail.writing import STAFF, note, unguarded

pytestmark = pytest.mark.django_db


def said_by(command: str, *words: str) -> str:
    said = StringIO()
    call_command(command, *words, stdout=said)
    return said.getvalue()


def test_the_minute_tick_seals_and_brings_accesses_in() -> None:
    note()
    access.note_read(actor=STAFF, what="tests.read", subject=("case", 5), patient_id=41, site_id=2)
    tasks.seal()
    assert (TrailSeal.objects.count(), AccessEntry.objects.count(), AccessSeal.objects.count()) == (1, 1, 0)
    assert list(Path(settings.TRAIL_ANCHOR_DIR).iterdir()) == []


def test_the_hourly_tick_leaves_nothing_unsealed_and_writes_the_head() -> None:
    note()
    access.note_read(actor=STAFF, what="tests.read", subject=("case", 5), patient_id=41, site_id=2)
    tasks.anchor()
    assert (TrailSeal.objects.count(), AccessSeal.objects.count()) == (1, 1)
    assert (Path(settings.TRAIL_ANCHOR_DIR) / "anchors.jsonl").read_text().count('"position":1') == 1


def test_a_doubled_tick_changes_nothing() -> None:
    note()
    tasks.seal()
    tasks.seal()
    assert TrailSeal.objects.count() == 1


def test_the_commands_say_what_they_did() -> None:
    note()
    assert said_by("trail_seal") == "Entries sealed: 1\n"
    assert said_by("trail_anchor").startswith("Head at position 1 written to ")


def test_verify_says_what_it_cannot_prove() -> None:
    note()
    tasks.seal()
    assert "No head is kept outside" in said_by("trail_verify")
    tasks.anchor()
    note()
    tasks.seal()
    note()
    said = said_by("trail_verify")
    assert "so a rewrite or cut there is unprovable: 1" in said
    assert "Not sealed yet, so a removal there is unprovable: 1" in said
    assert "✓ The trail holds." in said


def test_verify_after_an_erasure() -> None:
    note()
    note(patient_id=42)
    tasks.anchor()
    erasure.destroy_patient_key(41)
    said = said_by("trail_verify", "--values")
    assert "✓ The trail holds." in said
    assert [line.split()[-2] for line in said.splitlines() if "Values erased" in line] == ["1"]


def test_verify_ends_with_an_error_where_something_was_altered() -> None:
    entry = note()
    tasks.anchor()
    with unguarded("trail_entry") as cursor:
        cursor.execute("UPDATE trail_entry SET actor_id = '8' WHERE id = %s", [entry.pk])
    said = StringIO()
    with pytest.raises(CommandError, match="Findings: 2"):
        call_command("trail_verify", stdout=said)
    assert f"position 1, entry {entry.pk}: the entry or its seal was altered, moved or put in" in said.getvalue()


def test_verify_takes_heads_kept_elsewhere(tmp_path: Path) -> None:
    note()
    tasks.anchor()
    elsewhere = tmp_path / "elsewhere"
    Path(settings.TRAIL_ANCHOR_DIR).rename(elsewhere)
    with unguarded("trail_seal") as cursor:
        cursor.execute("DELETE FROM trail_seal")
    assert "No head is kept outside" in said_by("trail_verify")
    with pytest.raises(CommandError, match="Findings: 1"):
        call_command("trail_verify", anchors=elsewhere, stdout=StringIO())
