"""Run as a program of its own: two sessions of PostgreSQL that each hold what the other one wants.

Our desk locks the patient, then the resources. Another program, which knows no order, has locked a resource
and wants the patient. Every statement of both is made by hand, one after the other, in one thread.
"""

import json
import sys
import time
from collections.abc import Callable
from typing import Any

import psycopg
from psycopg.pq import ExecStatus

# First of ours: it sets Django up.
from tests.clinic.diary.racing import look, prepare

# isort: split
from django.db import connection

from clinic.diary.models import Booking, Resource, ResourceClaim
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.clinic.diary.house import at
from tests.clinic.diary.pressing import Page
from tests.support import database_contents

LOCK = "FOR NO KEY UPDATE"
WAIT_SECONDS = 20


class Other:
    """A superuser, so that it may wait for long before it looks for a circle: it is the other one that finds it."""

    def __init__(self, home: str, name: str) -> None:
        where: dict[str, Any] = {"host": home, "dbname": name, "user": "postgres"}
        self._session = psycopg.connect(**where, options="-c deadlock_timeout=60s")
        self._watch = psycopg.connect(**where, autocommit=True)

    def lock(self, table: str, pk: int) -> None:
        self._session.execute(self._statement(table, pk))

    def want(self, table: str, pk: int) -> None:
        """Sends the statement, and comes back once the database says that it waits for somebody."""
        self._session.pgconn.send_query(self._statement(table, pk))
        until = time.monotonic() + WAIT_SECONDS
        while not self._waits():
            assert time.monotonic() < until, "nobody stands in its way"

    def go_on(self) -> str:
        """What became of that statement."""
        results = []
        while (result := self._session.pgconn.get_result()) is not None:
            results.append(ExecStatus(result.status).name)
        self._session.close()
        return " ".join(results)

    def _waits(self) -> bool:
        pid = self._session.info.backend_pid
        row = self._watch.execute("SELECT cardinality(pg_blocking_pids(%s))", [pid]).fetchone()
        return row is not None and row[0] > 0

    @staticmethod
    def _statement(table: str, pk: int) -> bytes:
        return f"SELECT id FROM {table} WHERE id = {pk} {LOCK}".encode()  # noqa: S608  (our names)


def deadlock(home: str, name: str) -> dict[str, Any]:
    (patient,) = prepare(1)
    page, other = Page(patient.site), Other(home, name)
    steps: list[str] = []

    def step(execute: Callable[..., Any], sql: str, params: object, many: bool, context: object) -> object:
        wanted = [model for model in (Patient, Resource) if f'FROM "{model._meta.db_table}"' in sql and LOCK in sql]
        if wanted == [Resource]:
            other.want(Patient._meta.db_table, patient.pk)
            steps.append("the other waits for the patient")
        try:
            answer = execute(sql, params, many, context)
        except Exception as error:
            steps.append(type(error.__cause__).__name__)
            raise
        steps.extend(f"we hold {model.__name__}" for model in wanted)
        return answer

    other.lock(Resource._meta.db_table, Resource.objects.filter(site=patient.site).latest("pk").pk)
    steps.append("the other holds a resource")
    before = database_contents()
    with connection.execute_wrapper(step):
        told = page.press(patient, at(9))
    after = database_contents()
    return {
        "steps": [*steps, other.go_on()],
        "told": told,
        "changed": [table for table in before if before[table] != after[table]],
        "again": page.press(patient, at(9)),
        "rows": [model.objects.count() for model in (Booking, ResourceClaim)],
        "booked": TrailEntry.objects.filter(verb="diary.booked").count(),
        **look(),
    }


if __name__ == "__main__":
    json.dump(deadlock(*sys.argv[1:]), sys.stdout)
