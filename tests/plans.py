"""How the database would answer what the program asks: nothing may read a large table from one end to the other."""

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.db import connection

_READS = ("SELECT", "UPDATE", "DELETE", "INSERT", "\nSELECT")


@dataclass(slots=True)
class Asked:
    """Statements with their parameters, in the order in which they were asked."""

    statements: list[tuple[str, Any]] = field(default_factory=list)

    def read_through(self, tables: Sequence[str], *, but: Sequence[str] = ()) -> list[str]:
        """Statements that read one of these tables whole. `but`: indexes that are walked along, and left early."""
        return [sql for sql, params in self.statements if any(_reads_whole(sql, params, tables, but))]


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
    postgres = connection.vendor == "postgresql"
    with connection.cursor() as cursor:
        cursor.execute(("EXPLAIN (FORMAT JSON) " if postgres else "EXPLAIN QUERY PLAN ") + sql, params)
        rows = cursor.fetchall()
    if not postgres:
        yield from (_is_scan(str(row[3]), tables, but) for row in rows)
        return
    plan = rows[0][0]
    for node in _nodes((json.loads(plan) if isinstance(plan, str) else plan)[0]["Plan"]):
        yield node["Node Type"].endswith("Seq Scan") and node.get("Relation Name") in tables


def _is_scan(line: str, tables: Sequence[str], but: Sequence[str]) -> bool:
    scanned = any(line == f"SCAN {table}" or line.startswith(f"SCAN {table} ") for table in tables)
    return scanned and not any(line.endswith(f" INDEX {index}") for index in but)


def _nodes(plan: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield plan
    for below in plan.get("Plans", ()):
        yield from _nodes(below)
