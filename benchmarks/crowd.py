"""A practice of a size that no practice has: a million patients and a million visits in one PostgreSQL.

Rows are written by COPY, indexes and the constraint after them: only the figures are measured, not the filling.
"""

import random
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import accumulate, islice
from pathlib import Path
from typing import Any
from uuid import UUID

from django.db import connections

from tests import postgres, prepared

DAYS_BEFORE, DAYS_AFTER = 770, 365
CLINICIANS, ROOMS, LAMPS = 20, 12, 3
OPENS, CLOSES = time(8), time(18)
FROM, UNTIL = 8 * 60, 18 * 60
GAP = 120  # a visit of 75 minutes fits
TODAY = date(2026, 3, 4)
# The day whose page is drawn, counted from today: it is left free here, and filled with whole visits.
PAGE_DAY, VISITS_OF_PAGE = 1, 150
SPARSE = 120  # so many days at an occupancy of 0.6, then as many at 0.9, and so on
_SOUNDS = ("b", "br", "d", "f", "g", "h", "j", "k", "l", "m", "n", "p", "r", "s", "sh", "st", "t", "v", "w", "z")
_VOWELS = ("a", "e", "i", "o", "u", "ai", "ö", "é", "ą", "ou")
_ENDS = ("", "n", "r", "s", "l", "ck", "ński", "sen", "ez", "m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    visits: int
    patients: int


LARGE, SMALL = Size(visits=1_000_000, patients=1_000_000), Size(visits=10_000, patients=10_000)


@contextmanager
def cluster(home: Path) -> Iterator[postgres.Cluster]:
    running = postgres.start()
    try:
        yield running
    finally:
        running.stop()


def connect(running: postgres.Cluster, name: str, *, home: Path) -> Any:
    """A migrated database of this name in place of the default one; `use` goes back and forth between several."""
    url = prepared.database(running, into=home, name=name)
    connections.settings[name] = connections.settings["default"] | _of(url)
    return use(name)


def use(name: str) -> Any:
    connection = connections[name]
    connections["default"] = connection
    return connection


def _of(url: str) -> dict[str, Any]:
    import environ  # noqa: PLC0415  (only where a database is opened)

    found: dict[str, Any] = {"CONN_MAX_AGE": 600, "CONN_HEALTH_CHECKS": False, "OPTIONS": {}}
    return {**found, **environ.Env.db_url_config(url)}


@contextmanager
def without_indexes(connection: Any, *tables: str) -> Iterator[None]:
    """Made again after the rows: one by one they would take most of the time."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT i.indexname, i.indexdef FROM pg_indexes i WHERE i.tablename = ANY(%s) AND NOT EXISTS "
            "(SELECT 1 FROM pg_constraint c WHERE c.conname = i.indexname)",
            [list(tables)],
        )
        indexes = cursor.fetchall()
        for name, _definition in indexes:
            cursor.execute(f'DROP INDEX "{name}"')
        yield
        cursor.execute("SET maintenance_work_mem = '256MB'")
        for _name, definition in indexes:
            cursor.execute(definition)
        for table in tables:
            cursor.execute(f"VACUUM (ANALYZE) {table}")


def copy(connection: Any, table: str, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    more = _defaults(table, columns)
    columns, rows = [*columns, *more], ((*row, *more.values()) for row in rows)
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            places = ", ".join(["%s"] * len(columns))
            statement = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({places})"  # noqa: S608  (our own names)
            cursor.executemany(statement, (tuple(_plain(connection, cell) for cell in row) for row in rows))
            return
        lines = ("\t".join(map(str, row)) + "\n" for row in rows)
        with cursor.copy(f"COPY {table} ({', '.join(columns)}) FROM STDIN") as writer:
            while block := "".join(islice(lines, 5_000)):
                writer.write(block)


def _defaults(table: str, columns: Sequence[str]) -> dict[str, object]:
    """What the table asks for besides."""
    from django.apps import apps  # noqa: PLC0415  (Django is set up by now)

    (model,) = (one for one in apps.get_models() if one._meta.db_table == table)
    asked = (one for one in model._meta.concrete_fields if not one.null and not one.primary_key)
    return {str(one.column): one.get_default() for one in asked if one.column not in columns}


def _plain(connection: Any, cell: object) -> object:
    if isinstance(cell, datetime):
        return connection.ops.adapt_datetimefield_value(cell)
    if isinstance(cell, UUID):
        return cell.hex
    return str(cell) if isinstance(cell, time | date) else cell


def names(dice: random.Random, count: int) -> list[str]:
    """Invented, each once, a few letters to a dozen; the first ones are given to far more people than the last."""
    found: dict[str, None] = {}
    while len(found) < count:
        parts = dice.choices((1, 2, 3), (1, 5, 3))[0]
        word = "".join(dice.choice(_SOUNDS) + dice.choice(_VOWELS) for _ in range(parts)) + dice.choice(_ENDS)
        found[word.capitalize()] = None
    return list(found)


def weights(count: int) -> list[float]:
    return list(accumulate(1 / (rank + 10) for rank in range(count)))


def add_patients(connection: Any, count: int, *, site: int) -> None:
    from clinic.patients.rules import slip_keys  # noqa: PLC0415  (Django is set up by now)

    words: set[str] = set()
    copy(connection, "clinic_patients_patient", _PATIENT, patients(count, site=site, words=words))
    keys = ((key, word) for word in words for key in slip_keys(word))
    copy(connection, "clinic_patients_namekey", ("key", "word"), keys)


def patients(count: int, *, site: int, words: set[str]) -> Iterator[tuple[object, ...]]:
    """Rows of the register; the words of their names are collected on the way."""
    from clinic.patients.rules import search_keys  # noqa: PLC0415

    dice = random.Random(1)  # noqa: S311  (the same crowd each time)
    given, family = names(dice, max(count // 300, 300)), names(dice, max(count // 25, 2_000))
    people = zip(
        dice.choices(given, cum_weights=weights(len(given)), k=count),
        dice.choices(family, cum_weights=weights(len(family)), k=count),
        strict=True,
    )
    for number, (first, last) in enumerate(people):
        phone, email = f"+447{dice.randrange(10**9):09d}", f"p{number}@example.org"
        keys = search_keys(name=f"{first} {last}", preferred_name="", phone=phone, email=email)
        words.update(keys.name.split())
        born = date(1940 + number % 65, 1 + number % 12, 1 + number % 28)
        at = datetime(2020, 1, 1, tzinfo=UTC) + timedelta(minutes=number)
        plain = (site, f"{first} {last}", "", born, phone, email, "", "en", False, "", "", "", "email")
        yield (*plain, keys.name, keys.turned, keys.digits, keys.text, at, 1)


def occupied(day: int) -> float:
    return 0.6 if day // SPARSE % 2 == 0 else 0.9


def busy(dice: random.Random, day: int) -> Iterator[tuple[int, int]]:
    """Visits of one room, person or lamp on one day, in minutes: back to back around gaps that hold a visit."""
    if occupied(day) > 0.6:
        gaps, length = (1 if dice.random() < 0.5 else 0), 20
    else:
        gaps, length = 2, 15
    quarters = sorted(dice.sample(range(FROM, UNTIL - GAP + 1, GAP), gaps))
    at = FROM
    while at + length <= UNTIL:
        gap = next((gap for gap in quarters if gap < at + length and at < gap + GAP), None)
        if gap is not None:
            at = gap + GAP
            continue
        yield at, at + length
        at += length


def add_visits(
    connection: Any, size: Size, *, site: int, visit_type: int, resources: list[int], from_day: int = -DAYS_BEFORE
) -> None:
    """One resource a visit, as many visits as asked for. A day looks the same in a large diary and in a small one."""

    def spans() -> Iterator[tuple[int, int, int]]:
        for day in range(from_day, DAYS_AFTER):
            dice = random.Random(day)  # noqa: S311
            for resource in resources if day != PAGE_DAY else ():
                yield from ((resource, day * 1440 + start, day * 1440 + end) for start, end in busy(dice, day))

    dice, found = random.Random(2), list(islice(spans(), size.visits))  # noqa: S311
    start_of = datetime.combine(TODAY, time(0), tzinfo=UTC)
    at = {minute: (start_of + timedelta(minutes=minute)) for one in found for minute in one[1:]}
    bookings = (
        booking(number, site, dice.randrange(1, size.patients), visit_type, at[start], at[end], UUID(int=number))
        for number, (_resource, start, end) in enumerate(found, 1)
    )
    claims = (
        (n, resource, "room", "all", at[start], at[end], True) for n, (resource, start, end) in enumerate(found, 1)
    )
    with unguarded(connection), without_indexes(connection, "clinic_diary_booking", "resource_claim"):
        copy(connection, "clinic_diary_booking", BOOKING, bookings)
        copy(connection, "resource_claim", CLAIM, claims)
    with connection.cursor() as cursor:
        cursor.execute("SELECT setval(pg_get_serial_sequence('clinic_diary_booking', 'id'), %s)", [len(found)])


@contextmanager
def in_bulk(connection: Any) -> Iterator[None]:
    """SQLite's triggers would tell its full-text table of one patient after the other, twenty times as slowly."""
    from clinic.patients import trigrams  # noqa: PLC0415

    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            for name in trigrams.TRIGGERS:
                cursor.execute(f"DROP TRIGGER {name}")
    yield
    trigrams.ensure(None, connection.alias)  # type: ignore[arg-type]  # the sender is not looked at


@contextmanager
def unguarded(connection: Any) -> Iterator[None]:
    """The constraint comes after the rows: checked one by one, they would take twenty times as long."""
    from clinic.diary import overlap  # noqa: PLC0415

    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"ALTER TABLE resource_claim DROP CONSTRAINT {overlap.CONSTRAINT}")
    yield
    # What refers to other tables is looked at before the table changes again.
    connection.check_constraints()
    overlap.ensure(None, connection.alias)  # type: ignore[arg-type]  # the sender is not looked at


def booking(
    pk: int, site: int, patient: int, visit_type: int, start_at: datetime, end_at: datetime, uid: UUID
) -> tuple[object, ...]:
    status = "fulfilled" if start_at.date() < TODAY else "booked"
    when = (start_at.date(), start_at.time(), "UTC", start_at, end_at)
    return (pk, site, patient, visit_type, status, *when, 0, *[""] * 7, uid, 0, 1, start_at, "crowd", "")


_PATIENT = [
    "site_id",
    "name",
    "preferred_name",
    "birth_on",
    "phone",
    "email",
    "address",
    "language",
    "needs_interpreter",
    "interpreter_language",
    "allergies",
    "own_dentist",
    "channel",
    "search_name",
    "search_turned",
    "search_digits",
    "search_text",
    "registered_at",
    "version",
]
BOOKING = [
    "id",
    "site_id",
    "patient_id",
    "visit_type_id",
    "status",
    "wall_on",
    "wall_time",
    "zone",
    "starts_at",
    "ends_at",
    "cycles",
    "light_kind",
    "cancelled_by",
    "cancel_reason",
    "why",
    "status_from",
    "status_by",
    "note",
    "uid",
    "sequence",
    "version",
    "booked_at",
    "booked_by",
    "booked_by_actor",
]
CLAIM = ("booking_id", "resource_id", "need", "segment", "start_at", "end_at", "active")
