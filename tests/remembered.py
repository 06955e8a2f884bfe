"""What many tests begin with is built once a module; afterwards its rows are put back as they were.

Putting back happens only where building would give the same: the same database contents, people, clock,
language and keys. Everything else, and a building that changes a row or a file or sends a mail, is built anew.
"""

import io
import os
import pickle
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache, wraps
from pathlib import Path
from typing import Any, ParamSpec, TypeVar, cast

from django.apps import apps
from django.conf import settings
from django.core import mail
from django.db import connection, models, transaction
from django.utils.translation import get_language
from time_machine import escape_hatch

from clinic.trail.clock import real_now
from tests.support import database_contents, tables_there

P = ParamSpec("P")
R = TypeVar("R")
# Each table's rows as the database itself writes them down, by key.
Rows = dict[str, dict[object, str]]
# Set by pytest; the processes of tests/world.py build everything themselves.
TEST = "PYTEST_CURRENT_TEST"
# The name of the cast among its people.
ITSELF = "itself"
PLAIN = (str, int, type(None))


@dataclass(frozen=True, kw_only=True)
class Building:
    """The statements that bring the rows back, files, and what was returned, with what the owner learned meanwhile."""

    statements: list[str]
    files: dict[Path, bytes]
    pickled: bytes


@dataclass
class Memory:
    """Of one module: a conftest or a fixture beside the tests may change how something is built."""

    module: str = ""
    buildings: dict[str, Building | None] = field(default_factory=dict)

    def of(self, module: str) -> dict[str, Building | None]:
        if module != self.module:
            self.module, self.buildings = module, {}
        return self.buildings


_memory = Memory()


def remembered(build: Callable[P, R]) -> Callable[P, R]:
    """For a function of nothing, or of the cast and plain words. `__wrapped__` builds whatever is remembered."""

    @wraps(build)
    def again(*args: P.args, **kwargs: P.kwargs) -> R:
        if TEST not in os.environ or not all(isinstance(value, PLAIN) for value in (*args[1:], *kwargs.values())):
            return build(*args, **kwargs)
        owner = args[0] if args else None
        buildings = _memory.of(os.environ[TEST].split("::", maxsplit=1)[0])
        key = repr((build.__module__, build.__qualname__, args[1:], kwargs, *_circumstances(owner)))
        known = buildings.get(key)
        if known is not None:
            return cast("R", _put_back(known, owner))
        if key in buildings:
            return build(*args, **kwargs)
        result, buildings[key] = _watched(lambda: build(*args, **kwargs), owner)
        return result

    return again


def _circumstances(owner: object) -> Iterator[object]:
    """All that a building may depend on, besides its words."""
    yield connection.settings_dict["NAME"]
    yield database_contents(leave_out=())
    yield get_language(), settings.FIELD_KEYS, settings.PASSWORD_HASHERS
    # The real clock only runs on: what was built a moment ago is as good as what is built now.
    yield real_now() if escape_hatch.is_travelling() else "real time"
    for name, value in _people(owner).items():
        yield name, [getattr(value, column.attname) for column in value._meta.concrete_fields]


def _files() -> dict[Path, int]:
    """When each was last written."""
    return {path: path.stat().st_mtime_ns for path in Path(settings.FILES_DIR).rglob("*") if path.is_file()}


def _people(owner: object) -> dict[str, Any]:
    return {} if owner is None else vars(owner)


def _watched(build: Callable[[], R], owner: object) -> tuple[R, Building | None]:
    known, rows = {ITSELF: owner, **_people(owner)}, _rows()
    files, mails = _files(), len(mail.outbox)
    result = build()
    after = _rows()
    untouched = all(after[name].get(key) == row for name, table in rows.items() for key, row in table.items())
    kept = _files()
    if not untouched or not files.items() <= kept.items() or len(mail.outbox) != mails:
        return result, None
    learned = {name: value for name, value in _people(owner).items() if name not in known}
    fresh = {name: [row for key, row in table.items() if key not in rows[name]] for name, table in after.items()}
    return result, Building(
        statements=list(_statements(fresh)),
        files={path: path.read_bytes() for path in kept if path not in files},
        pickled=_pickled((result, learned), known),
    )


def _put_back(building: Building, owner: object) -> Any:
    with transaction.atomic(), connection.cursor() as cursor:
        for statement in building.statements:
            cursor.execute(statement)
    for path, content in building.files.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    result, learned = Fetching(building.pickled, {ITSELF: owner, **_people(owner)}).load()
    _people(owner).update(learned)
    return result


class Naming(pickle.Pickler):
    """Whoever was there before is named, not copied: it stays the same object for the test."""

    def __init__(self, into: io.BytesIO, known: dict[str, Any]) -> None:
        super().__init__(into)
        self.names = {id(value): name for name, value in known.items() if value is not None}

    def persistent_id(self, each: object) -> str | None:
        return self.names.get(id(each))


class Fetching(pickle.Unpickler):
    def __init__(self, pickled: bytes, known: dict[str, Any]) -> None:
        super().__init__(io.BytesIO(pickled))
        self.known = known

    def persistent_load(self, name: str) -> Any:
        return self.known[name]


def _pickled(what: object, known: dict[str, Any]) -> bytes:
    written = io.BytesIO()
    Naming(written, known).dump(what)
    return written.getvalue()


def _metas() -> "Iterator[models.options.Options[Any]]":
    there = tables_there()
    for model in apps.get_models(include_auto_created=True):
        meta = model._meta
        if meta.db_table in there and meta.managed and not meta.proxy:
            yield meta


def _rows() -> Rows:
    return {meta.db_table: dict(_written_down(meta)) for meta in _metas()}


def _written_down(meta: "models.options.Options[Any]") -> Iterator[tuple[object, str]]:
    """Past Django's cursor: most tables are empty, and its wrapping costs more than reading nothing."""
    connection.ensure_connection()
    yield from connection.connection.execute(_reading(meta.db_table)).fetchall()


@cache
def _reading(table: str) -> str:
    quote = connection.ops.quote_name
    meta = next(meta for meta in _metas() if meta.db_table == table)
    if connection.vendor == "postgresql":
        row = f"quote_literal(t::text) || '::' || '{quote(table)}'"
    else:
        row = " || ', ' || ".join(f"quote({name})" for name in _columns(meta))
    return f"SELECT {quote(str(meta.pk.column))}, {row} FROM {quote(table)} t ORDER BY 1"  # noqa: S608


def _statements(fresh: dict[str, list[str]]) -> Iterator[str]:
    """References may point ahead: the database checks them at the end of the transaction."""
    for meta in _metas():
        table = connection.ops.quote_name(meta.db_table)
        values = ", ".join(f"({row})" for row in fresh[meta.db_table])
        if values and connection.vendor == "postgresql":
            yield f"INSERT INTO {table} SELECT (r.v).* FROM (VALUES {values}) AS r(v)"  # noqa: S608
        elif values:
            yield f"INSERT INTO {table} ({', '.join(_columns(meta))}) VALUES {values}"  # noqa: S608


def _columns(meta: "models.options.Options[Any]") -> list[str]:
    return [connection.ops.quote_name(str(column.column)) for column in meta.concrete_fields]
