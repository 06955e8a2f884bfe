"""The index of every three letters of `search_text`: GIN on PostgreSQL, a full-text table on SQLite.

PostgreSQL gets one of the whole words of a name besides; SQLite finds them by their letters as quickly.

Made after every migrate: SQLite drops the triggers that keep its table up to date whenever a later
migration remakes the patients' table. A table without its triggers is filled anew.
"""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core import checks
from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from clinic.patients.fields import TRIGRAMS, WORDS, words_of
from clinic.trail.checks import being_mended

PATIENTS = "clinic_patients_patient"
_POSTGRES = tuple(
    f"CREATE INDEX IF NOT EXISTS {name} ON {PATIENTS} USING gin ({what}) WHERE merged_into_id IS NULL"
    for name, what in ((TRIGRAMS, "search_text gin_trgm_ops"), (WORDS, words_of("search_name")))
)
_ADD = f"INSERT INTO {TRIGRAMS} (rowid, search_text) VALUES (NEW.id, NEW.search_text);"  # noqa: S608  (our own names)
# How a full-text table without texts of its own is told of a text that is there no more (SQLite FTS5, 4.4.3).
_TAKE = f"INSERT INTO {TRIGRAMS} ({TRIGRAMS}, rowid, search_text) VALUES ('delete', OLD.id, OLD.search_text);"  # noqa: S608
TRIGGERS = {
    f"{TRIGRAMS}_insert": f"AFTER INSERT ON {PATIENTS} BEGIN {_ADD} END",
    f"{TRIGRAMS}_delete": f"AFTER DELETE ON {PATIENTS} BEGIN {_TAKE} END",
    f"{TRIGRAMS}_update": f"AFTER UPDATE OF id, search_text ON {PATIENTS} "
    f"WHEN OLD.id IS NOT NEW.id OR OLD.search_text IS NOT NEW.search_text BEGIN {_TAKE} {_ADD} END",
}
_TEXTS = f"USING fts5(search_text, content='{PATIENTS}', content_rowid='id', tokenize='trigram')"
_SQLITE = (
    f"CREATE VIRTUAL TABLE IF NOT EXISTS {TRIGRAMS} {_TEXTS}",
    *(f"DROP TRIGGER IF EXISTS {name}" for name in TRIGGERS),
    *(f"CREATE TRIGGER {name} {rule}" for name, rule in TRIGGERS.items()),
    f"INSERT INTO {TRIGRAMS} ({TRIGRAMS}) VALUES ('rebuild')",  # noqa: S608
)


def ensure(sender: AppConfig, using: str, **kwargs: Any) -> None:
    """Receiver of post_migrate for this app."""
    connection = connections[using]
    if not _is_missing(connection):
        return
    with transaction.atomic(using=using), connection.cursor() as cursor:
        for statement in _POSTGRES if connection.vendor == "postgresql" else _SQLITE:
            cursor.execute(statement)


def _is_missing(connection: BaseDatabaseWrapper) -> bool:
    if PATIENTS not in connection.introspection.table_names():
        return False
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT count(*) FROM pg_class WHERE relname IN (%s, %s) AND pg_table_is_visible(oid)",
                [TRIGRAMS, WORDS],
            )
            return bool(cursor.fetchone() != (2,))
        cursor.execute("SELECT name FROM sqlite_master WHERE type IN ('table', 'trigger')")
        return not {TRIGRAMS, *TRIGGERS} <= {name for (name,) in cursor.fetchall()}


def check(
    *, app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None, **_options: object
) -> list[checks.CheckMessage]:
    """System check: without it a search on SQLite fails, and on PostgreSQL reads every patient."""
    if being_mended():
        return []
    return [
        checks.Error(
            "The index of patients' names is missing.", hint="Run: manage.py migrate", id="clinic_patients.E001"
        )
        for alias in databases or ()
        if _is_missing(connections[alias])
    ]
