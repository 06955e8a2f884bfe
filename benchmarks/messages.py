"""Messages: the bookkeeping beside a queue engine's, a mail beside a bare one, and a tick with nothing to do.

All of it on one PostgreSQL and one Redis. `claim and give back` is what a sweep writes down without the hand-over:
a batch is taken, with a lease, and each row is given back under the attempt that holds it.
"""

import os
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchmarks import crowd, mails
from benchmarks.engine import Engine, engine
from benchmarks.frame import LEAST_ROUNDS, Result, Target
from tests import prepared

if TYPE_CHECKING:
    from tests.cast import Cast

BATCH, BATCHES, RINGS = 500, 10, 2_000
SMALL, LARGE = 1_000, 1_000_000
FEW_TICKS = 50
FLAT_ROUNDS = 8
NOW = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


def results() -> Iterator[Result]:
    with tempfile.TemporaryDirectory(prefix="casebook-bench-") as folder, crowd.cluster(Path(folder)) as running:
        home = Path(folder)
        os.environ[prepared.HOME] = str(home / "prepared")
        (home / "prepared").mkdir()
        small, large = (planned(running, name, size, home) for name, size in (("few", SMALL), ("many", LARGE)))
        with doorbell(home) as ring:
            yield bookkeeping(small, ring)
        yield flat(small, large)
        yield idle(large)
        yield from mails.results(running, home)


@dataclass(frozen=True, kw_only=True)
class House:
    """A database with so many planned rows, of which a few thousand are due."""

    name: str
    planned: int
    cast: "Cast"

    def use(self) -> Any:
        return crowd.use(self.name)


def planned(running: Any, name: str, size: int, home: Path) -> House:
    (home / name).mkdir()
    connection = crowd.connect(running, name, home=home / name)
    from tests.cast import open_practice  # noqa: PLC0415  (Django is set up by now)

    cast = open_practice()
    patient = cast.patient.pk
    due = BATCH * BATCHES
    with crowd.without_indexes(connection, "due_message"):
        crowd.copy(connection, "due_message", _COLUMNS, (_row(cast, patient, n, due) for n in range(size + due)))
    return House(name=name, planned=size, cast=cast)


def _row(cast: "Cast", patient: int, number: int, due: int) -> tuple[object, ...]:
    """The first ones are due, the others in the years to come, a few hundred a day."""
    late = timedelta(hours=1) - timedelta(milliseconds=100 * number)
    due_at = NOW - late if number < due else NOW + timedelta(minutes=3 * (number - due) + 1)
    subject = ("visit", number, "visit_confirmed")
    return (cast.fernbrook.pk, patient, *subject, due_at, due_at + timedelta(days=400), "planned", NOW)


_COLUMNS = (
    "site_id",
    "patient_id",
    "subject_kind",
    "subject_id",
    "kind",
    "due_at",
    "not_after",
    "state",
    "planned_at",
)


def claim_and_give_back() -> None:
    """All that is due, batch by batch."""
    from clinic.messages import claims  # noqa: PLC0415
    from clinic.trail.clock import real_now  # noqa: PLC0415

    held = [claims.claim(now=NOW, real_now=real_now(), limit=BATCH) for _ in range(BATCHES)]
    assert [len(rows) for rows in held] == [BATCH] * BATCHES
    for rows in held:
        claims.release(rows)


def swept(house: House) -> float:
    """Seconds a row. What earlier rounds left behind is cleared first, as a real cluster does by itself."""
    connection = house.use()
    with connection.cursor() as cursor:
        cursor.execute("VACUUM (ANALYZE) due_message")
    return _timed(claim_and_give_back) / (BATCH * BATCHES)


def bookkeeping(house: House, ring: Callable[[], float]) -> Result:
    """Microseconds a row, beside microseconds an empty task."""
    pairs = [(swept(house), ring() / RINGS) for _ in range(LEAST_ROUNDS + 1)][1:]
    rows, rings = (1e6 * statistics.median(column) for column in zip(*pairs, strict=True))
    return Target(limit=1 / 20, of="ratio").judge(
        "messages: claim a row and give it back",
        rows,
        "an empty Celery task, prefork 2",
        rings,
        size={"rows": BATCH * BATCHES, "batch": BATCH, "tasks": RINGS},
        unit="µs",
    )


def flat(small: House, large: House) -> Result:
    """The two in turns, each as often first as second: they are near each other, and a machine has its moods."""
    pairs = [(swept(large), swept(small)) for _ in range(FLAT_ROUNDS + 1)][1:]
    turned = [(swept(small), swept(large)) for _ in range(FLAT_ROUNDS)]
    pairs += [(many, few) for few, many in turned]
    many, few = (1e6 * statistics.median(column) for column in zip(*pairs, strict=True))
    return Target(limit=1.3, of="ratio").judge(
        "messages: a row among a million planned ones",
        many,
        "a row among a thousand",
        few,
        size={"planned": large.planned},
        unit="µs",
    )


def idle(house: House) -> Result:
    """Nothing is due: everything that was is far in the future."""
    from django.db import connection  # noqa: PLC0415

    from clinic.messages.sweep import sweep  # noqa: PLC0415

    house.use()
    before = NOW - timedelta(days=1)

    def bare() -> None:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            cursor.fetchone()

    pairs = [
        (_timed(lambda: sweep(now=before), times=FEW_TICKS), _timed(bare, times=FEW_TICKS))
        for _ in range(LEAST_ROUNDS + 1)
    ][1:]
    tick, one = (1e3 * statistics.median(column) for column in zip(*pairs, strict=True))
    return Target(limit=5, of="value").judge(
        "messages: a tick when nothing is due", tick, "SELECT 1", one, size={"planned": house.planned}
    )


def rung(working: Engine, ring: Any) -> float:
    """Seconds that two worker processes take for a full queue of empty tasks."""

    def put() -> None:
        for _ in range(RINGS):
            ring.delay()

    return working.drain(put)


@contextmanager
def doorbell(home: Path) -> Iterator[Callable[[], float]]:
    with engine(home, app="benchmarks.doorbell", name_of_broker="DOORBELL_BROKER", env={}) as working:
        from benchmarks.doorbell import app, ring  # noqa: PLC0415

        app.conf.update(broker_url=working.address)
        ring.delay()
        working.wait_until_empty()
        yield partial(rung, working, ring)


def _timed(work: Callable[[], object], *, times: int = 1) -> float:
    """Seconds for one of them."""
    began = time.perf_counter()
    for _ in range(times):
        work()
    return (time.perf_counter() - began) / times
