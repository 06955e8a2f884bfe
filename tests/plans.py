"""How the database would answer what the program asks: nothing may read a large table from one end to the other."""

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.db import connection

_READS = ("SELECT", "(SELECT", "UPDATE", "DELETE", "INSERT", "\nSELECT")


@dataclass(slots=True)
class Asked:
    """Statements with their parameters, in the order in which they were asked."""

    statements: list[tuple[str, Any]] = field(default_factory=list)

    def read_through(self, tables: Sequence[str], *, but: Sequence[str] = ()) -> list[str]:
        """Statements that read one of these tables whole. `but`: indexes that are walked along, and left early."""
        return [sql for sql, params in self.statements if any(_reads_whole(sql, params, tables, but))]

    def sorting(self) -> list[str]:
        """Statements whose rows are read first and put in order then: of many, all are read for the first few."""
        return [sql for sql, params in self.statements if any(map(_sorts, _plan(sql, params)))]

    def walks(self) -> set[str]:
        """The indexes by which rows are found."""
        return {name for sql, params in self.statements for step in _plan(sql, params) if (name := _index(step))}


@contextmanager
def asked() -> Iterator[Asked]:
    kept = Asked()

    def note(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
        if sql.startswith(_READS) and not many:
            kept.statements.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield kept


def _reads_whole(sql: str, params: Any, tables: Sequence[str], but: Sequence[str]) -> Iterator[bool]:
    for step in _plan(sql, params):
        if isinstance(step, str):
            yield _is_scan(step, tables, but)
        else:
            yield step["Node Type"].endswith("Seq Scan") and step.get("Relation Name") in tables


def _plan(sql: str, params: Any) -> Iterator[str | dict[str, Any]]:
    """The steps: of PostgreSQL its nodes, of SQLite its lines."""
    postgres = connection.vendor == "postgresql"
    with connection.cursor() as cursor:
        cursor.execute(("EXPLAIN (FORMAT JSON) " if postgres else "EXPLAIN QUERY PLAN ") + sql, params)
        rows = cursor.fetchall()
    if postgres:
        plan = rows[0][0]
        yield from _nodes((json.loads(plan) if isinstance(plan, str) else plan)[0]["Plan"])
    else:
        yield from (str(row[3]) for row in rows)


def _index(step: str | dict[str, Any]) -> str:
    if isinstance(step, str):
        return step.partition(" INDEX ")[2].partition(" ")[0]
    return str(step.get("Index Name", ""))


def _sorts(step: str | dict[str, Any]) -> bool:
    return "FOR ORDER BY" in step if isinstance(step, str) else step["Node Type"].endswith("Sort")


def _is_scan(line: str, tables: Sequence[str], but: Sequence[str]) -> bool:
    scanned = any(line == f"SCAN {table}" or line.startswith(f"SCAN {table} ") for table in tables)
    return scanned and not any(line.endswith(f" INDEX {index}") for index in but)


def _nodes(plan: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield plan
    for below in plan.get("Plans", ()):
        yield from _nodes(below)
