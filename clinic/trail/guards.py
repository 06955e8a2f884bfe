"""Tables that only grow, held by triggers in the database itself.

Each app declares its own in `AppConfig.ready`; the triggers are made after every migrate, because
SQLite drops them whenever a later migration remakes a table.
"""

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

MESSAGE = "{table} only grows: a correction is a new entry"
_guards: dict[str, "Guard"] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Guard:
    """What may still be done to a row: nothing, unless allowed here."""

    table: str
    update: bool = False
    delete: bool = False
    # Columns that may be settled later although the rest of the row stays as it was written.
    allow_columns: tuple[str, ...] = ()

    def events(self, vendor: str) -> Iterator[str]:
        if not self.update:
            yield "update"
        if not self.delete:
            yield "delete"
            # SQLite has no TRUNCATE.
            if vendor == "postgresql":
                yield "truncate"


def register(*, table: str, update: bool = False, delete: bool = False, allow_columns: Sequence[str] = ()) -> None:
    guard = Guard(table=table, update=update, delete=delete, allow_columns=tuple(allow_columns))
    if _guards.get(table, guard) != guard:
        raise ValueError(f"The table {table} is guarded twice, in different ways.")
    _guards[table] = guard


def registered() -> tuple[Guard, ...]:
    return tuple(sorted(_guards.values(), key=lambda guard: guard.table))


def trigger_name(table: str, event: str) -> str:
    name = f"guard_{table}_{event}"
    # PostgreSQL cuts a longer name off without a word, and two of them would then collide.
    return name if len(name) <= 63 else f"guard_{hashlib.sha256(name.encode()).hexdigest()[:24]}_{event}"


def expected(using: str) -> set[str]:
    """The names that must stand in this database: those of the guarded tables that exist."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    return {
        trigger_name(guard.table, event)
        for guard in registered()
        if guard.table in tables
        for event in guard.events(connection.vendor)
    }


def present(using: str) -> set[str]:
    with connections[using].cursor() as cursor:
        cursor.execute(_LIST[connections[using].vendor])
        return {row[0] for row in cursor.fetchall()}


def missing(using: str) -> set[str]:
    return expected(using) - present(using)


def create(using: str) -> None:
    """Makes every trigger anew; twice is as good as once."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    with transaction.atomic(using=using), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_FUNCTION)
        for guard in registered():
            if guard.table in tables:
                for statement in statements(guard, connection):
                    cursor.execute(statement)


def statements(guard: Guard, connection: BaseDatabaseWrapper) -> Iterator[str]:
    writer = _postgresql if connection.vendor == "postgresql" else _sqlite
    for event in guard.events(connection.vendor):
        condition = ""
        if event == "update" and guard.allow_columns:
            condition = _changed(_fixed_columns(guard, connection), connection)
        yield from writer(guard.table, event, condition, connection)


def _fixed_columns(guard: Guard, connection: BaseDatabaseWrapper) -> list[str]:
    with connection.cursor() as cursor:
        columns = [column.name for column in connection.introspection.get_table_description(cursor, guard.table)]
    unknown = set(guard.allow_columns) - set(columns)
    if unknown:
        raise ValueError(f"{guard.table} has no column {', '.join(sorted(unknown))}: its guard names it.")
    return [column for column in columns if column not in guard.allow_columns]


def _changed(columns: Iterable[str], connection: BaseDatabaseWrapper) -> str:
    # By value: a save of the whole row names every column, changed or not.
    differs = "IS DISTINCT FROM" if connection.vendor == "postgresql" else "IS NOT"
    quoted = [connection.ops.quote_name(column) for column in columns]
    return " OR ".join(f"OLD.{column} {differs} NEW.{column}" for column in quoted)


def _sqlite(table: str, event: str, condition: str, connection: BaseDatabaseWrapper) -> Iterator[str]:
    name, on = (connection.ops.quote_name(word) for word in (trigger_name(table, event), table))
    when = f"WHEN {condition} " if condition else ""
    yield f"DROP TRIGGER IF EXISTS {name}"
    yield (
        f"CREATE TRIGGER {name} BEFORE {event.upper()} ON {on} FOR EACH ROW {when}"
        f"BEGIN SELECT RAISE(ABORT, '{MESSAGE.format(table=table)}'); END"
    )


def _postgresql(table: str, event: str, condition: str, connection: BaseDatabaseWrapper) -> Iterator[str]:
    name, on = (connection.ops.quote_name(word) for word in (trigger_name(table, event), table))
    when = f"WHEN ({condition}) " if condition else ""
    each = "STATEMENT" if event == "truncate" else "ROW"
    yield (
        f"CREATE OR REPLACE TRIGGER {name} BEFORE {event.upper()} ON {on} FOR EACH {each} {when}"
        "EXECUTE FUNCTION casebook_only_grows()"
    )


_LIST = {
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
    # A trigger that was switched off guards nothing, so it does not count as present.
    "postgresql": (
        "SELECT t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
        "WHERE NOT t.tgisinternal AND t.tgenabled IN ('O', 'A') AND pg_table_is_visible(c.oid)"
    ),
}
_FUNCTION = """
CREATE OR REPLACE FUNCTION casebook_only_grows() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% only grows: a correction is a new entry', TG_TABLE_NAME
        USING ERRCODE = 'integrity_constraint_violation';
END $$
"""
