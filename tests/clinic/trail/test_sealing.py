"""The chain: whole, gap-safe, never forked, and compared with the heads kept outside."""

import hashlib
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest
from django.conf import settings
from django.db import IntegrityError, connection, transaction
from hypothesis import HealthCheck, given, seed
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from pytest_django.fixtures import Settings

from clinic.trail import anchors, clock, rows, sealing
from clinic.trail.models import TrailEntry, TrailSeal
from clinic.trail.report import Report
from clinic.trail.verify import verify
from tests.clinic.trail.writing import note, unguarded
from tests.support import nothing_written

pytestmark = pytest.mark.django_db


def verified() -> Report:
    return verify(anchor_dir=Path(settings.TRAIL_ANCHOR_DIR))


def findings(report: Report) -> list[str]:
    return [str(finding) for finding in report.findings.kept]


def chain(count: int) -> list[TrailEntry]:
    entries = [note(values={"step": number}) for number in range(count)]
    sealing.seal(clock.real_now())
    return entries


def test_it_works() -> None:
    entries = chain(3)
    assert list(TrailSeal.objects.values_list("position", "entry_id")) == [
        (position, entry.pk) for position, entry in enumerate(entries, start=1)
    ]
    report = verified()
    assert (report.holds, report.sealed, report.unsealed) == (True, 3, 0)


def test_an_empty_trail_holds() -> None:
    report = verified()
    assert (report.holds, report.head) == (True, (0, rows.GENESIS))


def test_nothing_new_writes_nothing() -> None:
    chain(2)
    assert sealing.seal(clock.real_now()) == 0
    assert TrailSeal.objects.count() == 2


def test_sealing_goes_on_over_many_batches(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sealing, "BATCH", 2)
    chain(5)
    assert TrailSeal.objects.count() == 5
    assert verified().holds


def test_the_same_entries_give_the_same_chain_on_both_databases() -> None:
    """Computed by hand from the documented form; a change here breaks every installation's seals."""
    at = datetime(2027, 3, 1, 9, 30, 0, 250_000, tzinfo=UTC)
    entry = note()
    facts = [getattr(entry, column) for column in rows.COLUMNS]
    facts[0:2] = [entry.nonce, at]
    found = rows.link_hash(previous="00", position=1, sealed_at=at, entry_id=9, mac="aa", facts=facts)
    stated = ["00", 1, "2027-03-01T09:30:00.250000+00:00", 9, "aa", 1, entry.nonce.hex]
    stated += ["2027-03-01T09:30:00.250000+00:00", *facts[2:]]
    text = json.dumps(stated, separators=(",", ":"), ensure_ascii=True)
    assert found == hashlib.sha256(text.encode()).hexdigest()


def test_an_entry_committed_late_is_sealed_later() -> None:
    first, late, third = (note() for _ in range(3))
    held = TrailEntry.objects.filter(pk=late.pk)
    with unguarded("trail_entry") as cursor:
        row = held.values().get()
        cursor.execute("DELETE FROM trail_entry WHERE id = %s", [late.pk])
    sealing.seal(clock.real_now())
    TrailEntry(**row).save(force_insert=True)
    assert sealing.seal(clock.real_now()) == 1
    assert list(TrailSeal.objects.values_list("entry_id", flat=True)) == [first.pk, third.pk, late.pk]
    assert verified().holds


def test_far_below_the_head_the_hourly_look_still_finds_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sealing, "LOOK_BACK_IDS", 0)
    late = note()
    row = TrailEntry.objects.filter(pk=late.pk).values().get()
    with unguarded("trail_entry") as cursor:
        cursor.execute("DELETE FROM trail_entry WHERE id = %s", [late.pk])
    chain(2)
    TrailEntry(**row).save(force_insert=True)
    assert sealing.seal(clock.real_now()) == 0
    sealing.anchor_tick(clock.real_now())
    assert verified().sealed == 3


@pytest.mark.parametrize(("position", "takes"), [(2, "a new entry"), (3, "a sealed entry")])
def test_a_fork_is_refused_by_the_database(position: int, takes: str) -> None:
    first, _ = chain(2)
    entry = note() if takes == "a new entry" else first
    seal = TrailSeal(position=position, entry=entry, row_hash="0" * 64, sealed_at=clock.real_now())
    with nothing_written(), pytest.raises(IntegrityError), transaction.atomic():
        seal.save(force_insert=True)


def tamper(sql: str, *params: object) -> None:
    with unguarded("trail_entry", "trail_seal") as cursor:
        cursor.execute(sql, params)


def set_column(entry: TrailEntry, column: str, value: object) -> None:
    tamper(f"UPDATE trail_entry SET {column} = %s WHERE id = %s", value, entry.pk)  # noqa: S608  (our own names)


CHANGES = {
    "nonce": "0" * 32,
    "at": "2026-01-01 00:00:00+00:00",
    "clock_shift_seconds": 60,
    "verb": "tests.noted_twice",
    "actor_kind": "system",
    "actor_id": "8",
    "actor_name": "Someone Else",
    "subject_kind": "patient",
    "subject_id": "6",
    "patient_id": 42,
    "site_id": 3,
    "fields": "email",
    "digest": "0" * 64,
    "digest_key": "0" * 16,
    "values_key": "0" * 16,
    "sealed_values": "gAAAA",
    "mac": "0" * 64,
}


def test_the_table_of_changes_knows_every_column() -> None:
    columns = {field.column for field in TrailEntry._meta.concrete_fields} - {"id"}
    assert set(CHANGES) == columns == {*rows.COLUMNS, "mac"}


@pytest.mark.parametrize("column", sorted(CHANGES))
@pytest.mark.parametrize("chosen", [0, 1, 2])
def test_a_change_of_any_column_is_found(column: str, chosen: int) -> None:
    entry = chain(3)[chosen]
    set_column(entry, column, CHANGES[column])
    assert any(f"position {chosen + 1}, entry {entry.pk}" in finding for finding in findings(verified()))


@pytest.mark.parametrize("column", ["patient_id", "site_id"])
def test_an_emptied_number_is_found(column: str) -> None:
    set_column(chain(3)[1], column, None)
    assert verified().findings.count == 2


@pytest.mark.parametrize("column", [*sorted(CHANGES)])
def test_a_change_before_sealing_is_found_too(column: str) -> None:
    entry = note()
    set_column(entry, column, CHANGES[column])
    sealing.seal(clock.real_now())
    assert len(findings(verified())) == 1


def test_a_key_that_was_taken_out_is_reported_unless_allowed(settings: Settings) -> None:
    entry = chain(1)[0]
    settings.FIELD_KEYS = ["bmV3LWZpZWxkLWtleS1mb3ItdGhlc2UtdGVzdHMtMDE="]
    sentence = f"entry {entry.pk} was written with a key that CASEBOOK_FIELD_KEYS does not hold"
    assert findings(verified()) == [sentence]
    report = verify(anchor_dir=Path(settings.TRAIL_ANCHOR_DIR), allow_unknown_keys=True)
    assert (report.holds, report.unknown_keys) == (True, 1)


@pytest.mark.parametrize("sql", [
    "UPDATE trail_seal SET row_hash = '{zero}' WHERE position = 2",
    "UPDATE trail_seal SET sealed_at = '2026-01-01 00:00:00+00:00' WHERE position = 2",
    "UPDATE trail_seal SET position = 9 WHERE position = 2",
    "DELETE FROM trail_seal WHERE position = 2",
])  # fmt: skip
def test_a_change_of_a_seal_is_found(sql: str) -> None:
    chain(3)
    tamper(sql.format(zero="0" * 64))
    assert not verified().holds


def test_a_reorder_is_found() -> None:
    first, second, _ = chain(3)
    with unguarded("trail_seal") as cursor:
        cursor.execute("DELETE FROM trail_seal WHERE position = 1")
        cursor.execute("UPDATE trail_seal SET entry_id = %s WHERE position = 2", [first.pk])
        hashed = TrailSeal.objects.get(position=2)
        cursor.execute(
            "INSERT INTO trail_seal (position, entry_id, row_hash, sealed_at) SELECT 1, %s, row_hash, sealed_at "
            "FROM trail_seal WHERE position = 2",
            [second.pk],
        )
    assert hashed.entry_id == first.pk
    assert findings(verified())[0].startswith(f"position 1, entry {second.pk}")


def test_a_removed_entry_is_found() -> None:
    _, second, _ = chain(3)
    tamper("DELETE FROM trail_seal WHERE entry_id = %s", second.pk)
    tamper("DELETE FROM trail_entry WHERE id = %s", second.pk)
    assert findings(verified())[0] == "position 2 is missing"


def test_a_replayed_entry_is_found() -> None:
    entry = chain(2)[0]
    copy = TrailEntry.objects.get(pk=entry.pk)
    # With its own nonce the database refuses it, so somebody who replays an entry must give it another.
    copy.pk, copy.nonce = None, UUID(int=1)
    copy.save(force_insert=True)
    assert findings(verified()) == [f"entry {copy.pk} was not written by this installation"]
    sealing.seal(clock.real_now())
    assert findings(verified()) == [f"entry {copy.pk} was not written by this installation"]


def test_an_entry_put_in_behind_the_chain_is_found() -> None:
    """Even by somebody who holds the key: a genuine entry, held back and put in two hours late."""
    old = note()
    row = TrailEntry.objects.filter(pk=old.pk).values().get()
    with unguarded("trail_entry") as cursor:
        cursor.execute("DELETE FROM trail_entry WHERE id = %s", [old.pk])
    note()
    sealing.seal(clock.real_now() + timedelta(hours=2))
    TrailEntry(**row).save(force_insert=True)
    assert findings(verified()) == [f"entry {old.pk} was put in later than it claims"]
    sealing.seal(clock.real_now() + timedelta(hours=3))
    assert findings(verified()) == [f"entry {old.pk} was put in later than it claims"]


def rewrite(keep: int) -> None:
    """The strongest attack inside the database: cut after `keep`, change what is left, chain it anew."""
    with unguarded("trail_entry", "trail_seal") as cursor:
        gone = list(TrailSeal.objects.filter(position__gt=keep).values_list("entry_id", flat=True))
        cursor.execute("DELETE FROM trail_seal")
        for entry_id in gone:
            cursor.execute("DELETE FROM trail_entry WHERE id = %s", [entry_id])
    sealing.seal(clock.real_now() + timedelta(minutes=5))


def test_a_cut_tail_shows_against_the_outside_head() -> None:
    chain(3)
    anchor = sealing.anchor_tick(clock.real_now())
    tamper("DELETE FROM trail_seal WHERE position = 3")
    assert findings(verified()) == [f"the end was cut off: the outside head of {anchor.at} stands at position 3"]


def test_a_full_rewrite_shows_against_the_outside_head_only() -> None:
    chain(3)
    rewrite(keep=2)
    assert verified().holds
    sealing.anchor_tick(clock.real_now())
    chain(1)
    rewrite(keep=2)
    assert [finding.split(":")[0] for finding in findings(verified())] == ["the trail was rewritten"]


def test_what_is_younger_than_the_last_head_is_counted() -> None:
    chain(2)
    sealing.anchor_tick(clock.real_now())
    chain(3)
    note()
    report = verified()
    assert (report.holds, report.after_anchor, report.unsealed) == (True, 3, 1)


def test_a_torn_line_of_the_file_of_heads_is_said() -> None:
    chain(1)
    sealing.anchor_tick(clock.real_now())
    path = Path(settings.TRAIL_ANCHOR_DIR) / anchors.FILE_NAME
    with path.open("a") as file:
        file.write('\n{"position": 1, "row_')
    sealing.anchor_tick(clock.real_now())
    report = verified()
    assert (report.holds, report.anchor_count, report.unreadable_anchor_lines) == (True, 2, (4,))


def test_a_value_of_no_known_kind_is_a_finding() -> None:
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL takes no such value")
    chain(2)
    tamper("UPDATE trail_entry SET nonce = 'not an id' WHERE id IN (SELECT max(id) FROM trail_entry)")
    assert findings(verified())[-1].endswith("cannot be read at all: a value in it is of no known kind")


Moves = st.lists(st.sampled_from(["change", "delete", "swap", "insert"]), min_size=1, max_size=3)


@seed(1)
@hypothesis_settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(moves=Moves, where=st.lists(st.integers(0, 5), min_size=3, max_size=3), data=st.data())
def test_no_series_of_moves_goes_unseen(moves: list[str], where: list[int], data: st.DataObject) -> None:
    """On plain rows, as a database would hand them over: any edit of the list breaks a link or a head."""
    at = datetime(2027, 3, 1, tzinfo=UTC)
    honest = [(number, f"mac{number}", f"facts{number}") for number in range(6)]
    heads = links(honest, at=at)
    forged = list(honest)
    for move, place in zip(moves, where, strict=False):
        edit(forged, move, place % max(len(forged), 1), data)
    assert (links(forged, at=at)[-1:] == heads[-1:]) == (forged == honest)


def links(listed: list[tuple[int, str, str]], *, at: datetime) -> list[str]:
    made, previous = [], rows.GENESIS
    for position, (entry_id, mac, fact) in enumerate(listed, start=1):
        facts = [UUID(int=1), at, fact]
        previous = rows.link_hash(
            previous=previous, position=position, sealed_at=at, entry_id=entry_id, mac=mac, facts=facts
        )
        made.append(previous)
    return made


def edit(listed: list[tuple[int, str, str]], move: str, place: int, data: st.DataObject) -> None:
    if move == "insert" or not listed:
        listed.insert(place, (data.draw(st.integers(0, 9)), data.draw(st.text(max_size=3)), data.draw(st.text())))
    elif move == "delete":
        del listed[place]
    elif move == "swap":
        listed[place], listed[-1] = listed[-1], listed[place]
    else:
        entry_id, mac, fact = listed[place]
        listed[place] = (entry_id, mac, data.draw(st.text()) + fact)
