"""The app's PostgreSQL role: it works, and cannot change what only grows."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import ProgrammingError, connection, transaction

from clinic.trail import clock, guards, sealing
from clinic.trail.models import AccessSpool, TrailEntry, TrailSeal
from tests.clinic.trail.writing import note

pytestmark = pytest.mark.django_db
ROLE = "casebook_app"


@pytest.fixture
def app_role() -> None:
    """From here on this test's transaction runs as the app; all of it is rolled back."""
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no roles")
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE ROLE {ROLE}")
        call_command("grant_app_role", ROLE, apply=True, stdout=StringIO())
        cursor.execute(f"GRANT {ROLE} TO CURRENT_USER")
        cursor.execute(f"SET LOCAL ROLE {ROLE}")


def refused(sql: str) -> bool:
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql)
    except ProgrammingError as error:
        return "permission denied" in str(error) or "must be owner" in str(error)
    return False


@pytest.mark.usefixtures("app_role")
def test_it_works() -> None:
    note()
    sealing.anchor_tick(clock.real_now())
    AccessSpool.objects.create(file_name="access-2027-03-01.jsonl", first_line="0" * 32)
    assert AccessSpool.objects.update(imported_bytes=1) == 1
    assert AccessSpool.objects.all().delete()[0] == 1
    assert (TrailEntry.objects.count(), TrailSeal.objects.count()) == (1, 1)


@pytest.mark.usefixtures("app_role")
def test_it_changes_and_removes_nothing_that_only_grows() -> None:
    note()
    allowed = []
    for guard in guards.registered():
        with connection.cursor() as cursor:
            columns = [column.name for column in connection.introspection.get_table_description(cursor, guard.table)]
        column = next(column for column in columns if column not in guard.allow_columns)
        attempts = [f"TRUNCATE {guard.table}"]
        attempts += [] if guard.update else [f"UPDATE {guard.table} SET {column} = {column}"]  # noqa: S608
        attempts += [] if guard.delete else [f"DELETE FROM {guard.table}"]  # noqa: S608
        allowed += [sql for sql in attempts if not refused(sql)]
    assert allowed == []


@pytest.mark.usefixtures("app_role")
@pytest.mark.parametrize("sql", [
    "TRUNCATE clinic_trail_accessspool",
    "DROP TABLE clinic_trail_accessspool",
    "ALTER TABLE trail_entry DISABLE TRIGGER guard_trail_entry_update",
    "DROP TRIGGER guard_trail_entry_update ON trail_entry",
    "CREATE TABLE mine (id integer)",
    "CREATE OR REPLACE FUNCTION casebook_only_grows() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN OLD; END'",
    "INSERT INTO django_migrations (app, name, applied) VALUES ('x', 'y', now())",
])  # fmt: skip
def test_it_cannot_touch_the_guards_or_the_tables_themselves(sql: str) -> None:
    assert refused(sql)


def test_a_settled_column_is_the_only_one_it_may_change(monkeypatch: pytest.MonkeyPatch) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no roles")
    monkeypatch.setattr(guards, "_guards", guards._guards | {
        "clinic_trail_accessspool": guards.Guard(table="clinic_trail_accessspool", allow_columns=("imported_bytes",)),
    })  # fmt: skip
    printed = StringIO()
    call_command("grant_app_role", ROLE, stdout=printed)
    granted = f'GRANT SELECT, INSERT, UPDATE ("imported_bytes") ON "clinic_trail_accessspool" TO "{ROLE}";'
    assert granted in printed.getvalue()


def test_sqlite_needs_no_roles() -> None:
    if connection.vendor != "sqlite":
        pytest.skip("about SQLite")
    with pytest.raises(CommandError, match="SQLite has no roles"):
        call_command("grant_app_role", ROLE)
