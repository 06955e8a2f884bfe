"""An entry to work with, and the way round the guards that only an attacker would take."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction

from clinic.trail import guards
from clinic.trail.actor import Actor
from clinic.trail.models import TrailEntry
from clinic.trail.record import record

STAFF = Actor(kind="staff", id="7", name="Lena Ortega")
PATIENT = Actor(kind="patient", id="41", name="Marisol Quintero")


def note(**changed: Any) -> TrailEntry:
    """Records something about patient 41, unless told otherwise."""
    told: dict[str, Any] = {
        "verb": "tests.noted",
        "actor": STAFF,
        "subject": ("case", 5),
        "patient_id": 41,
        "site_id": 2,
        "values": {"phone": "+44 7700 900123"},
    }
    with transaction.atomic():
        return record(**told | changed)


@contextmanager
def unguarded(*tables: str) -> Iterator[Any]:
    """What somebody with full rights in the database could do: the triggers are gone meanwhile."""
    with connection.cursor() as cursor:
        for table in tables:
            _switch(cursor, table, on=False)
        yield cursor
        for table in tables:
            _switch(cursor, table, on=True)


def _switch(cursor: Any, table: str, *, on: bool) -> None:
    if connection.vendor == "postgresql":
        # Deferred foreign keys of this test's own rows must be settled before the table is altered.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute(f"ALTER TABLE {table} {'ENABLE' if on else 'DISABLE'} TRIGGER USER")
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        return
    guard = next(guard for guard in guards.registered() if guard.table == table)
    if on:
        for statement in guards.statements(guard, connection):
            cursor.execute(statement)
    else:
        for event in guard.events(connection.vendor):
            cursor.execute(f"DROP TRIGGER {guards.trigger_name(table, event)}")
