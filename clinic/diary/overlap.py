"""The last word against double booking: the database itself refuses two overlapping active claims.

PostgreSQL: an exclusion constraint over a half-open range. SQLite: triggers on insert, on update and on
setting a claim active again. Both are put in place after every migrate, because SQLite drops triggers
when a later migration remakes the table.
"""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core import checks
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from clinic.trail.checks import being_mended

CONSTRAINT = "resource_claim_no_overlap"
_POSTGRES = f"""
ALTER TABLE resource_claim ADD CONSTRAINT {CONSTRAINT}
EXCLUDE USING gist (resource_id WITH =, tstzrange(start_at, end_at, '[)') WITH &&) WHERE (active)
"""
_SQLITE = """
CREATE TRIGGER IF NOT EXISTS {name} BEFORE {event} ON resource_claim
WHEN NEW.active AND EXISTS (
    SELECT 1 FROM resource_claim AS other
    WHERE other.resource_id = NEW.resource_id AND other.active AND other.id IS NOT NEW.id
      AND other.start_at < NEW.end_at AND other.end_at > NEW.start_at
)
BEGIN SELECT RAISE(ABORT, '{constraint}'); END
"""
_EVENTS = {f"{CONSTRAINT}_insert": "INSERT", f"{CONSTRAINT}_update": "UPDATE"}


def ensure(sender: AppConfig, using: str, **kwargs: Any) -> None:
    """Receiver of post_migrate for this app."""
    connection = connections[using]
    for statement in _missing(connection):
        with connection.cursor() as cursor:
            cursor.execute(statement)


def _missing(connection: BaseDatabaseWrapper) -> list[str]:
    if "resource_claim" not in connection.introspection.table_names():
        return []
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT 1 FROM pg_constraint WHERE conname = %s", [CONSTRAINT])
            return [] if cursor.fetchone() else [_POSTGRES]
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        there = {name for (name,) in cursor.fetchall()}
    return [
        _SQLITE.format(name=name, event=event, constraint=CONSTRAINT)
        for name, event in _EVENTS.items()
        if name not in there
    ]


def check(
    *, app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None, **_options: object
) -> list[checks.CheckMessage]:
    """System check: the guard against double booking is in place on every migrated database."""
    if being_mended():
        return []
    return [
        checks.Error(
            "The database does not refuse overlapping bookings.",
            hint="Run: manage.py migrate",
            id="clinic_diary.E001",
        )
        for alias in databases or ()
        if _missing(connections[alias])
    ]
