"""Two PostgreSQL roles: the owner migrates, the app works and cannot change what only grows."""

from collections.abc import Iterator

from django.db.backends.base.base import BaseDatabaseWrapper

from clinic.trail import guards

# What the app only reads: a migration is the owner's.
_READ_ONLY = frozenset({"django_migrations"})


def statements(role: str, connection: BaseDatabaseWrapper) -> Iterator[str]:
    """The SQL that gives `role` what the app needs and nothing more. Run it after every migrate."""
    quote = connection.ops.quote_name
    name, database = quote(role), quote(connection.settings_dict["NAME"])
    yield f"GRANT CONNECT ON DATABASE {database} TO {name}"
    yield f"GRANT USAGE ON SCHEMA public TO {name}"
    yield f"REVOKE CREATE ON SCHEMA public FROM {name}"
    # Revoked first: a table may have become guarded since the last time.
    yield f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM {name}"
    rules = {guard.table: guard for guard in guards.registered()}
    for table in sorted(connection.introspection.table_names()):
        yield f"GRANT {_rights(table, rules.get(table), connection)} ON {quote(table)} TO {name}"
    yield f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {name}"


def _rights(table: str, guard: guards.Guard | None, connection: BaseDatabaseWrapper) -> str:
    if table in _READ_ONLY:
        return "SELECT"
    rights = ["SELECT", "INSERT"]
    if guard is None or guard.update:
        rights.append("UPDATE")
    elif guard.allow_columns:
        columns = ", ".join(connection.ops.quote_name(column) for column in guard.allow_columns)
        rights.append(f"UPDATE ({columns})")
    if guard is None or guard.delete:
        rights.append("DELETE")
    return ", ".join(rights)
