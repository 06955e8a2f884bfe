"""Statements whose text is made once: for the few that run for every message, and for every time that is looked for or
given, making it takes longer than running it.

For the same reason PostgreSQL keeps how it runs them. They are written as any other question, with a `Blank` for each
value, and are filled in when they are run:

    @once
    def _by_key() -> Statement:
        return select(Patient.objects.filter(pk=Blank("pk", pk_field)).values_list("email"))

    _by_key().rows(pk=7)
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import wraps
from typing import Any, ParamSpec

from django.db import DEFAULT_DB_ALIAS, connection, connections, models
from django.db.models.constants import OnConflict
from django.db.models.expressions import Expression
from django.db.models.sql import InsertQuery, UpdateQuery

# How often a connection runs one before the server keeps its plan.
PLANNED_ANEW = 3


class Blank(Expression):
    """A value that is given when the statement is run; `field` knows how the database writes it."""

    def __init__(self, name: str, field: Any) -> None:
        super().__init__(output_field=field)
        self.name = name

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, Any]:
        return "%s", [self]


def blanks(model: type[models.Model], *names: str) -> dict[str, Blank]:
    """For each of these fields one of its name."""
    return {name: Blank(name, model._meta.get_field(name)) for name in names}


@dataclass(frozen=True, slots=True)
class Statement:
    sql: str
    params: Sequence[Any]
    converters: Mapping[int, Any] = field(default_factory=dict)
    """For some columns what makes the value that the ORM would give."""

    def rows(self, **values: object) -> list[tuple[Any, ...]]:
        """As the driver gives them: for comparing, and for plain numbers and texts."""
        with self._asked(values) as cursor:
            return list(cursor.fetchall())

    def values(self, **values: object) -> list[list[Any]]:
        """As the ORM gives them: dates, times and truths too, which SQLite keeps as texts and numbers."""
        found = [list(row) for row in self.rows(**values)]
        for place, (converters, column) in self.converters.items():
            for row in found:
                for convert in converters:
                    row[place] = convert(row[place], column, connection)
        return found

    def run(self, **values: object) -> int:
        """How many rows it changed."""
        with self._asked(values) as cursor:
            return int(cursor.rowcount)

    @contextmanager
    def _asked(self, values: Mapping[str, object]) -> Iterator[Any]:
        """On PostgreSQL the values go beside the text: the text stays the same, and the server knows it again.

        All other questions go as Django sends them, with the values written into them, and are never kept. So do these
        where somebody listens, or questions are logged: there the values are to be read.
        """
        # Itself, and not what stands for it: that looks it up anew for each little thing it is asked.
        opened: Any = connections[DEFAULT_DB_ALIAS]
        if opened.vendor != "postgresql" or opened.queries_logged or opened.execute_wrappers:
            with opened.cursor() as cursor:
                cursor.execute(self.sql, self._filled(values, opened))
                yield cursor
            return
        # What Django's own cursor sees to, without all that stands around it.
        opened.validate_thread_sharing()
        opened.ensure_connection()
        opened.validate_no_broken_transaction()
        opened.connection.prepare_threshold = PLANNED_ANEW
        with opened.wrap_database_errors, opened.Database.Cursor(opened.connection) as plain:
            plain.execute(self.sql, self._filled(values, opened))
            yield plain

    def _filled(self, values: Mapping[str, object], opened: Any) -> list[Any]:
        return [
            one.output_field.get_db_prep_value(values[one.name], opened) if isinstance(one, Blank) else one
            for one in self.params
        ]


P = ParamSpec("P")


def once(make: Callable[P, Statement]) -> Callable[P, Statement]:
    """For a function that makes a statement: each is made when it is first needed, for the engine in use."""
    made: dict[object, Statement] = {}

    @wraps(make)
    def given(*key: P.args, **named: P.kwargs) -> Statement:
        known_by = (connection.vendor, key, tuple(sorted(named.items())))
        if known_by not in made:
            made[known_by] = make(*key, **named)
        return made[known_by]

    return given


def select(rows: "models.QuerySet[Any, Any]") -> Statement:
    compiler: Any = rows.query.get_compiler(connection=connection)
    sql, params = compiler.as_sql()
    return Statement(sql, params, compiler.get_converters([column for column, *_ in compiler.select]))


def beside(one: Statement, other: Statement) -> Statement:
    """Two questions in one: each row of the first with each of the second."""
    sql = f"SELECT * FROM ({one.sql}) AS one, ({other.sql}) AS other"  # noqa: S608  (both are our own)
    return Statement(sql, [*one.params, *other.params])


def as_seen(one: Statement, *, key: str = "") -> Statement:
    """Each row as one value that is another where anything in it is another, with the column `key` before it: for
    comparing. SQLite has no such value and gives the columns.
    """
    if connection.vendor != "postgresql":
        return one
    first = f"seen.{connection.ops.quote_name(key)}, " if key else ""
    return Statement(f"SELECT {first}seen::text FROM ({one.sql}) AS seen", one.params)  # noqa: S608  (our own)


def update(rows: "models.QuerySet[Any, Any]", **values: object) -> Statement:
    query: Any = rows.order_by().query.chain(klass=UpdateQuery)
    query.add_update_values(values)
    return Statement(*query.get_compiler(connection=connection).as_sql())


def with_new(change: Statement, model: type[models.Model]) -> Statement:
    """A change of one row, or one new row, and a further new row in one go, which is a transaction by itself; only
    PostgreSQL takes it.

    Where nothing was changed there is no new row. Its blanks go by the names of its attributes.
    """
    fields = [column for column in model._meta.concrete_fields if not column.primary_key]
    quote = connection.ops.quote_name
    columns, places = ", ".join(quote(str(one.column)) for one in fields), ", ".join(["%s"] * len(fields))
    into = f"INSERT INTO {quote(model._meta.db_table)} ({columns})"
    sql = f"WITH changed AS ({change.sql} RETURNING 1) {into} SELECT {places} FROM changed"  # noqa: S608  (our own)
    return Statement(sql, [*change.params, *(Blank(one.attname, one) for one in fields)])


def write_new(*rows: models.Model) -> None:
    """As `row.save(force_insert=True)` of each, for tables whose rows nothing else waits for. One statement."""
    _write(rows, insert(type(rows[0]), number=len(rows)))


def write_unless_there(row: models.Model) -> bool:
    """As `write_new`; False where the database holds such a row: one that is being written is waited for first.

    SQLite also writes nothing, and says nothing, where a check of the table fails.
    """
    return _write([row], insert(type(row), unless_there=True))


def _write(rows: Sequence[models.Model], statement: Statement) -> bool:
    keys = statement.rows(**in_places(*rows))
    for row, (pk,) in zip(rows, keys, strict=False):
        row.pk = pk
        row._state.adding, row._state.db = False, DEFAULT_DB_ALIAS
    return bool(keys)


def in_places(*rows: models.Model) -> dict[str, object]:
    """The values of new rows, for `insert`."""
    return {
        _place(column, number): column.pre_save(row, add=True)
        for number, row in enumerate(rows)
        for column in row._meta.concrete_fields
    }


def numbers_ahead(model: type[models.Model], count: int) -> list[int]:
    """Keys for so many rows that are written with them. One that is not used stays out. None on SQLite, which has no
    use for them.
    """
    if connection.vendor != "postgresql" or count == 0:
        return []
    with connection.cursor() as cursor:
        sequence = [model._meta.db_table, model._meta.pk.column]
        cursor.execute("SELECT nextval(pg_get_serial_sequence(%s, %s)) FROM generate_series(1, %s)", [*sequence, count])
        return [number for (number,) in cursor.fetchall()]


def written(row: models.Model) -> dict[str, object]:
    """What stands in a new row, by the names of its attributes."""
    return {column.attname: column.pre_save(row, add=True) for column in row._meta.concrete_fields}


@once
def insert(model: type[models.Model], *, number: int = 1, unless_there: bool = False) -> Statement:
    """So many rows, with a blank for each of their columns; gives back the new keys."""
    fields = [column for column in model._meta.concrete_fields if not column.primary_key]
    some = [model(**{one.attname: Blank(_place(one, place), one) for one in fields}) for place in range(number)]
    query = InsertQuery(model, on_conflict=OnConflict.IGNORE if unless_there else None)
    query.insert_values(fields, some)
    compiler = query.get_compiler(connection=connection)
    compiler.returning_fields = [model._meta.pk]
    ((sql, params),) = compiler.as_sql()
    return Statement(sql, params)


@once
def insert_numbered(model: type[models.Model]) -> Statement:
    """One row whose key is known before (`numbers_ahead`)."""
    fields = list(model._meta.concrete_fields)
    query = InsertQuery(model)
    query.insert_values(fields, [model(**{one.attname: Blank(_place(one, 0), one) for one in fields})])
    ((sql, params),) = query.get_compiler(connection=connection).as_sql()
    return Statement(sql, params)


def _place(column: Any, number: int) -> str:
    return f"{column.attname} {number}"
