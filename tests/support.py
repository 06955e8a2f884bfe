"""What many tests need: proof that a refusal left nothing behind."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.core import mail
from django.db import connection

OUR_LABELS = ("clinic_", "whitening_")
# Who read what is noted on a GET as well; that a read was refused is itself worth noting.
READ_LOG = "access_entry"


@dataclass(frozen=True, kw_only=True)
class Contents:
    """Number of rows, highest key and a digest over all rows, in key order."""

    rows: int
    highest: object
    digest: str


@cache
def our_tables() -> dict[str, str]:
    """Each of our tables with its key column, those of many-to-many fields included."""
    metas = [model._meta for model in apps.get_models(include_auto_created=True)]
    ours = [meta for meta in metas if meta.app_label.startswith(OUR_LABELS) and meta.managed and not meta.proxy]
    return {meta.db_table: str(meta.pk.column) for meta in ours}


def database_contents(*, leave_out: tuple[str, ...] = (READ_LOG,)) -> dict[str, Contents]:
    # That every model has its table is another test's matter (makemigrations --check).
    there = tables_there() - set(leave_out)
    watched = {name: key for name, key in our_tables().items() if name in there}
    return _asked_at_once(watched) if connection.vendor == "postgresql" else _asked_singly(watched)


def tables_there() -> frozenset[str]:
    return _tables_of(connection.settings_dict["NAME"])


@cache
def _tables_of(_database: str) -> frozenset[str]:
    """Asked once a database: no test makes a table."""
    return frozenset(connection.introspection.table_names())


def _asked_at_once(tables: dict[str, str]) -> dict[str, Contents]:
    """One question about all tables, answered by the server: sixty questions take longer than their answers."""
    quote = connection.ops.quote_name
    parts = [
        f"SELECT '{name}', count(*), max({quote(key)})::text,"  # noqa: S608  (names from models)
        f" md5(string_agg(t::text, chr(10) ORDER BY {quote(key)})) FROM {quote(name)} t"
        for name, key in tables.items()
    ]
    with connection.cursor() as cursor:
        # Sorted: the server may ask the tables side by side, and then answers in any order.
        cursor.execute(" UNION ALL ".join(parts) + " ORDER BY 1")
        return {name: Contents(rows=rows, highest=top, digest=digest or "") for name, rows, top, digest in cursor}


def _asked_singly(tables: dict[str, str]) -> dict[str, Contents]:
    """Past Django's cursor: most tables are empty, and its wrapping costs more than reading nothing."""
    connection.ensure_connection()
    quote = connection.ops.quote_name
    found = {}
    for name, key in tables.items():
        sql = f"SELECT {quote(key)}, t.* FROM {quote(name)} t ORDER BY 1"  # noqa: S608  (names from models)
        rows = connection.connection.execute(sql).fetchall()
        digest = hashlib.sha256("".join(map(repr, rows)).encode()).hexdigest()
        found[name] = Contents(rows=len(rows), highest=rows[-1][0] if rows else None, digest=digest)
    return found


def stored_files() -> dict[str, int]:
    folder = Path(settings.FILES_DIR)
    return {str(path.relative_to(folder)): path.stat().st_size for path in folder.rglob("*") if path.is_file()}


@contextmanager
def nothing_written(*, leave_out: tuple[str, ...] = (READ_LOG,)) -> Iterator[None]:
    """Inside, no row of ours may appear, change or go, no file may be kept, no mail may leave."""
    tables, files, mails = database_contents(leave_out=leave_out), stored_files(), len(mail.outbox)
    yield
    after = database_contents(leave_out=leave_out)
    changed = {name: (tables[name], after[name]) for name in tables if tables[name] != after[name]}
    assert not changed, "written although refused: " + "; ".join(
        f"{name} {before.rows} → {now.rows} rows" for name, (before, now) in changed.items()
    )
    assert stored_files() == files, "a file was kept although refused"
    assert len(mail.outbox) == mails, "a mail was sent although refused"
