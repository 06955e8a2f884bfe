"""Tables that only grow: every trigger stands after migrate, and holds."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from django.core.checks import Tags, run_checks
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import IntegrityError, connection, transaction
from django.db.models import CheckConstraint, Q

from clinic.trail import access, clock, guards, sealing
from clinic.trail.models import AccessSpool, TrailEntry
from tests.clinic.trail.writing import STAFF, note
from tests.support import nothing_written

pytestmark = pytest.mark.django_db
OURS = ["access_entry", "clinic_trail_accessseal", "trail_entry", "trail_seal"]


@contextmanager
def guarded_table(**rule: object) -> Iterator[None]:
    """A table of this test, `guarded(id, kept, settled)` with one row, and its guard."""
    known = dict(guards._guards)
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE guarded (id integer PRIMARY KEY, kept text, settled text)")
        cursor.execute("INSERT INTO guarded VALUES (1, 'as written', NULL)")
    try:
        guards.register(table="guarded", **rule)  # type: ignore[arg-type]
        guards.create("default")
        yield
    finally:
        guards._guards.clear()
        guards._guards.update(known)


def execute(sql: str) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)


def test_every_expected_trigger_stands_after_migrate() -> None:
    events = ["delete", "truncate", "update"] if connection.vendor == "postgresql" else ["delete", "update"]
    wanted = {f"guard_{table}_{event}" for table in OURS for event in events}
    assert wanted <= guards.expected("default")
    assert guards.missing("default") == set()


def test_every_guarded_table_exists() -> None:
    tables = set(connection.introspection.table_names())
    assert [guard.table for guard in guards.registered() if guard.table not in tables] == []


@pytest.mark.parametrize("table", OURS)
def test_nothing_is_removed(table: str) -> None:
    note()
    access.note_read(actor=STAFF, what="tests.read", subject=("case", 5), patient_id=41, site_id=2)
    sealing.anchor_tick(clock.real_now())
    with nothing_written(), pytest.raises(IntegrityError, match=f"{table} only grows"):
        execute(f"DELETE FROM {table}")  # noqa: S608  (our own names)
    if connection.vendor == "postgresql":
        # The deferred foreign keys of this test's own rows would stop it before the guard does.
        connection.check_constraints()
        with nothing_written(), pytest.raises(IntegrityError, match="only grows"):
            execute(f"TRUNCATE {table} CASCADE")


@pytest.mark.parametrize("sql", [
    "UPDATE trail_entry SET verb = 'tests.noted_twice'",
    "UPDATE trail_entry SET verb = verb",
    "DELETE FROM trail_entry",
])  # fmt: skip
def test_raw_sql_changes_nothing(sql: str) -> None:
    note()
    with nothing_written(), pytest.raises(IntegrityError, match="trail_entry only grows"):
        execute(sql)


def test_bulk_writes_of_the_framework_change_nothing() -> None:
    entry = note()
    entry.verb = "tests.noted_twice"
    attempts: list[Callable[[], object]] = [
        lambda: TrailEntry.objects.update(verb="x"),
        lambda: TrailEntry.objects.bulk_update([entry], ["verb"]),
        lambda: TrailEntry.objects.filter(pk=entry.pk).delete(),
        entry.save,
        lambda: TrailEntry.objects.bulk_create(
            [entry], update_conflicts=True, unique_fields=["nonce"], update_fields=["verb"]
        ),
    ]
    for attempt in attempts:
        with nothing_written(), pytest.raises(IntegrityError, match="only grows"), transaction.atomic():
            attempt()


def test_sqlite_does_not_replace_a_row_behind_the_guard() -> None:
    if connection.vendor != "sqlite":
        pytest.skip("REPLACE is SQLite's own")
    with guarded_table(), pytest.raises(IntegrityError, match="guarded only grows"):
        execute("INSERT OR REPLACE INTO guarded VALUES (1, 'replaced', NULL)")


def test_a_column_may_be_settled_and_the_others_not() -> None:
    with guarded_table(allow_columns=["settled"]):
        # As the framework writes it: all columns named, one changed.
        execute("UPDATE guarded SET id = 1, kept = 'as written', settled = 'done'")
        for refused in ("UPDATE guarded SET kept = 'other'", "UPDATE guarded SET kept = NULL", "DELETE FROM guarded"):
            with pytest.raises(IntegrityError, match="guarded only grows"):
                execute(refused)
        with connection.cursor() as cursor:
            cursor.execute("SELECT * FROM guarded")
            assert cursor.fetchall() == [(1, "as written", "done")]


def test_what_a_guard_allows_is_allowed() -> None:
    with guarded_table(update=True):
        execute("UPDATE guarded SET kept = 'other'")
        with pytest.raises(IntegrityError, match="guarded only grows"):
            execute("DELETE FROM guarded")


def test_a_settled_column_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="no column nowhere"), guarded_table(allow_columns=["nowhere"]):
        pass


def test_one_table_cannot_be_guarded_in_two_ways() -> None:
    with pytest.raises(ValueError, match="guarded twice"):
        guards.register(table="trail_entry", update=True)


def test_a_long_table_gets_a_name_that_postgresql_keeps_whole() -> None:
    names = {guards.trigger_name("a_table_with_a_very_long_name_" * 3, event) for event in ("update", "delete")}
    assert len(names) == 2
    assert all(len(name) <= 63 for name in names)


def test_a_remade_table_loses_its_guards_and_migrate_brings_them_back() -> None:
    if connection.vendor != "sqlite":
        pytest.skip("only SQLite remakes tables")
    # Not entered as a context: inside this test's transaction SQLite cannot switch its foreign keys off.
    editor = connection.schema_editor()
    editor.deferred_sql = []
    editor.add_constraint(TrailEntry, CheckConstraint(condition=~Q(verb="never"), name="of_a_later_migration"))
    assert guards.missing("default") == {"guard_trail_entry_update", "guard_trail_entry_delete"}
    with pytest.raises(SystemCheckError, match="guard_trail_entry_update"):
        call_command("check", databases=["default"])
    call_command("migrate", verbosity=0, interactive=False)
    assert guards.missing("default") == set()


def drop(event: str) -> None:
    name = guards.trigger_name("trail_entry", event)
    execute(f"DROP TRIGGER {name}" + (" ON trail_entry" if connection.vendor == "postgresql" else ""))


@pytest.mark.parametrize("event", ["update", "delete"])
def test_the_check_names_what_is_missing(event: str) -> None:
    drop(event)
    errors = [error for error in run_checks(tags=[Tags.database], databases=["default"]) if error.id == "trail.E001"]
    assert [f"guard_trail_entry_{event}" in str(error.msg) for error in errors] == [True]
    guards.create("default")
    guards.create("default")
    assert run_checks(tags=[Tags.database], databases=["default"]) == []


def test_a_switched_off_trigger_counts_as_missing() -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite cannot switch a trigger off")
    execute("ALTER TABLE trail_entry DISABLE TRIGGER guard_trail_entry_update")
    assert guards.missing("default") == {"guard_trail_entry_update"}


def test_the_spool_offsets_are_not_guarded() -> None:
    AccessSpool.objects.create(file_name="access-2027-03-01.jsonl", first_line="0" * 32, imported_bytes=1)
    assert AccessSpool.objects.update(imported_bytes=2) == 1
