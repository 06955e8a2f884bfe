"""Taking a consistent copy of the database under constant writing, and making a database of it again."""

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Protocol
from uuid import uuid4

import psycopg
from django.db import connections
from django.db.backends.sqlite3.base import DatabaseWrapper
from psycopg import sql

from clinic.trail.backup import programs
from clinic.trail.backup.facts import Facts, gather

_SQLITE_TABLES = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite~_%' ESCAPE '~'"


class TargetNotEmpty(Exception):
    """A restore never writes over anything."""


class MayNotCreate(Exception):
    """A restore needs a database of its own."""


class Engine(Protocol):
    vendor: str

    def snapshot(self, target: Path) -> Facts: ...

    def restore(self, source: Path, *, name: str) -> dict[str, Any]:
        """Makes the database `name` of a snapshot; the settings of a connection to it."""

    def refuse_what_is_taken(self, name: str) -> None:
        """Raises TargetNotEmpty: asked before an archive is taken apart, so that a slip leaves nothing behind."""

    def remove(self, name: str) -> None: ...

    def facts(self, settings: Mapping[str, Any]) -> Facts: ...

    def passing_name(self, folder: Path) -> str:
        """The name of a database that is thrown away after a check."""


class Sqlite:
    vendor = "sqlite"

    def __init__(self, settings: Mapping[str, Any]) -> None:
        self._settings = settings

    def snapshot(self, target: Path) -> Facts:
        """VACUUM INTO: whole under a constant writer, where a copy of the file misses committed rows."""
        with self._open(self._settings["NAME"]) as source:
            source.execute("VACUUM INTO ?", [str(target)])
        target.chmod(0o600)
        return self.facts({"NAME": target})

    def restore(self, source: Path, *, name: str) -> dict[str, Any]:
        self.refuse_what_is_taken(name)
        source.rename(name)
        return {**self._settings, "NAME": name}

    def refuse_what_is_taken(self, name: str) -> None:
        if Path(name).exists():
            raise TargetNotEmpty(f"{name} exists already.")

    def remove(self, name: str) -> None:
        for suffix in ("", "-wal", "-shm"):
            Path(name + suffix).unlink(missing_ok=True)

    def facts(self, settings: Mapping[str, Any]) -> Facts:
        with self._open(settings["NAME"]) as copy:
            found = copy.execute(_SQLITE_TABLES).fetchall()
            return gather(copy.cursor(), [row[0] for row in found])

    def passing_name(self, folder: Path) -> str:
        return str(folder / "restored.sqlite3")

    @contextmanager
    def _open(self, name: str | Path) -> Iterator[sqlite3.Connection]:
        """Through Django's backend: check constraints may call the functions that it adds to SQLite."""
        options = {key: value for key, value in self._settings["OPTIONS"].items() if key != "init_command"}
        wrapper = DatabaseWrapper({**self._settings, "NAME": str(name), "OPTIONS": options}, alias="copy")
        wrapper.connect()
        try:
            yield wrapper.connection
        finally:
            wrapper.close()


class Postgresql:
    vendor = "postgresql"

    def __init__(self, settings: Mapping[str, Any]) -> None:
        self._settings = settings

    def snapshot(self, target: Path) -> Facts:
        """pg_dump and the counts see one and the same moment: the exported snapshot."""
        with self._connect(self._settings["NAME"]) as connection, connection.cursor() as cursor:
            cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
            cursor.execute("SELECT pg_export_snapshot()")
            (moment,) = cursor.fetchone() or ("",)
            flags = ["--format=custom", "--no-owner", "--no-privileges", "--no-comments", f"--snapshot={moment}"]
            programs.run(
                "pg_dump", *flags, f"--file={target}", settings=self._settings, database=self._settings["NAME"]
            )
            return gather(cursor, _tables(cursor))

    def restore(self, source: Path, *, name: str) -> dict[str, Any]:
        self._create(name)
        self.refuse_what_is_taken(name)
        flags = ["--exit-on-error", "--no-owner", "--no-privileges", "--single-transaction", f"--dbname={name}"]
        programs.run("pg_restore", *flags, source, settings=self._settings, database=name)
        return {**self._settings, "NAME": name}

    def refuse_what_is_taken(self, name: str) -> None:
        if self._is_there(name):
            with self._connect(name) as connection, connection.cursor() as cursor:
                if _tables(cursor):
                    raise TargetNotEmpty(f"The database {name} is not empty.")

    def remove(self, name: str) -> None:
        with self._connect(self._settings["NAME"]) as connection:
            connection.execute(sql.SQL("DROP DATABASE IF EXISTS {}").format(sql.Identifier(name)))

    def facts(self, settings: Mapping[str, Any]) -> Facts:
        with self._connect(settings["NAME"]) as connection, connection.cursor() as cursor:
            return gather(cursor, _tables(cursor))

    def passing_name(self, folder: Path) -> str:
        return f"casebook_check_{uuid4().hex[:12]}"

    def _create(self, name: str) -> None:
        if self._is_there(name):
            return
        with self._connect(self._settings["NAME"]) as connection:
            try:
                connection.execute(sql.SQL("CREATE DATABASE {} TEMPLATE template0").format(sql.Identifier(name)))
            except psycopg.errors.InsufficientPrivilege as error:
                raise MayNotCreate(
                    "This role may not create a database. Run the command as the owner of the casebook's database, "
                    "which needs the right once: ALTER ROLE … CREATEDB."
                ) from error

    def _is_there(self, name: str) -> bool:
        with self._connect(self._settings["NAME"]) as connection:
            return connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone() is not None

    @contextmanager
    def _connect(self, name: str) -> Iterator[psycopg.Connection[tuple[Any, ...]]]:
        told = self._settings
        given = {"host": told["HOST"], "port": told["PORT"], "user": told["USER"], "password": told["PASSWORD"]}
        ssl = {option: told["OPTIONS"].get(option) for option in ("sslmode", "sslrootcert", "sslcert", "sslkey")}
        params = {key: value for key, value in (given | ssl).items() if value}
        with closing(psycopg.connect(dbname=name, autocommit=True, connect_timeout=20, **params)) as connection:
            yield connection


def _tables(cursor: psycopg.Cursor[tuple[Any, ...]]) -> list[str]:
    cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
    return [row[0] for row in cursor.fetchall()]


def engine(using: str = "default") -> Engine:
    settings = connections[using].settings_dict
    return Postgresql(settings) if connections[using].vendor == "postgresql" else Sqlite(settings)
