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
# What stands never overlaps, so only what begins meanwhile and the last one that began before can be in the way:
# the index of claims leads to both at once, however long the history of the resource is.
IN_THE_WAY = """
EXISTS (
    SELECT 1 FROM resource_claim AS other
    WHERE other.resource_id = {new}.resource_id AND other.active AND other.id IS NOT {new}.id
      AND other.start_at >= {new}.start_at AND other.start_at < {new}.end_at
) OR (
    SELECT other.end_at FROM resource_claim AS other
    WHERE other.resource_id = {new}.resource_id AND other.active AND other.id IS NOT {new}.id
      AND other.start_at < {new}.start_at
    ORDER BY other.start_at DESC LIMIT 1
) > {new}.start_at
"""
_SQLITE = """
CREATE TRIGGER IF NOT EXISTS {name} BEFORE {event} ON resource_claim
WHEN NEW.active AND ({in_the_way})
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
        _SQLITE.format(name=name, event=event, constraint=CONSTRAINT, in_the_way=IN_THE_WAY.format(new="NEW"))
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
