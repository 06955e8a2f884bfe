"""Messages: the bookkeeping beside a queue engine's, a mail beside a bare one, and a tick with nothing to do.

All of it on one PostgreSQL and one Redis. `claim and give back` is what a sweep writes down without the hand-over:
a batch is taken, with a lease, and each row is given back under the attempt that holds it.
"""

import contextlib
import os
import signal
import smtplib
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchmarks import crowd
from benchmarks.frame import LEAST_ROUNDS, Result, Target
from scripts import processes
from scripts.supervisor import Child, Supervisor
from tests import mailserver, prepared

if TYPE_CHECKING:
    from tests.cast import Cast

ROOT = Path(__file__).resolve().parent.parent
BATCH, BATCHES, RINGS, MAILS = 500, 10, 2_000, 100
SMALL, LARGE = 1_000, 1_000_000
FEW_TICKS = 50
NOW = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


def results() -> Iterator[Result]:
    with tempfile.TemporaryDirectory(prefix="casebook-bench-") as folder, crowd.cluster(Path(folder)) as running:
        home = Path(folder)
        os.environ[prepared.HOME] = str(home / "prepared")
        (home / "prepared").mkdir()
        small, large = (planned(running, name, size, home) for name, size in (("few", SMALL), ("many", LARGE)))
        with engine(home) as ring:
            yield bookkeeping(small, ring)
        yield flat(small, large)
        yield idle(large)
        yield mails(running, home)


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
    pairs = [(swept(large), swept(small)) for _ in range(LEAST_ROUNDS + 1)][1:]
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


def mails(running: Any, home: Path) -> Result:
    """Handed over with a commit before and after each; beside it the same mails over one bare connection."""
    (home / "mails").mkdir()
    crowd.connect(running, "mails", home=home / "mails")
    from clinic.messages.sweep import sweep  # noqa: PLC0415
    from clinic.patients.models import Patient  # noqa: PLC0415
    from clinic.trail import keys  # noqa: PLC0415
    from clinic.trail.clock import real_now  # noqa: PLC0415
    from scripts.chaos import people  # noqa: PLC0415

    people.fill(count=MAILS * (LEAST_ROUNDS + 2), spread_seconds=0, hurried_seconds=43_200, start_at=real_now())
    for pk in Patient.objects.values_list("pk", flat=True):
        # As after registration.
        keys.held(pk)

    def hand_over() -> None:
        done = sweep(now=real_now(), limit=MAILS)
        assert done.states == {"handed_over": MAILS}, str(done)

    with at_any_hour(EMAIL_BACKEND="django.core.mail.backends.locmem.EmailBackend"):
        letters = caught(hand_over)
    with sink() as port, at_any_hour(EMAIL_HOST="127.0.0.1", EMAIL_PORT=port):
        bare = partial(one_after_another, port, letters)
        pairs = [(_timed(hand_over) / MAILS, _timed(bare) / MAILS) for _ in range(LEAST_ROUNDS + 1)][1:]
    ours, theirs = (1e3 * statistics.median(column) for column in zip(*pairs, strict=True))
    return Target(limit=2.5, of="ratio").judge(
        "messages: a mail, with a commit before and after",
        ours,
        "the same mail in a bare smtplib loop",
        theirs,
        size={"mails": MAILS, "bytes": sum(len(one.as_bytes()) for one in letters) // MAILS},
    )


@contextmanager
def at_any_hour(**more: object) -> Iterator[None]:
    from django.test import override_settings  # noqa: PLC0415

    with override_settings(MESSAGES_FROM_HOUR=0, MESSAGES_UNTIL_HOUR=24, **more):
        yield


def caught(hand_over: Callable[[], None]) -> list[Any]:
    """The mails of one batch as they would be sent."""
    from django.core import mail  # noqa: PLC0415

    mail.outbox = []
    hand_over()
    return [one.message() for one in mail.outbox]


def one_after_another(port: int, letters: Sequence[Any]) -> None:
    with smtplib.SMTP("127.0.0.1", port) as line:
        for letter in letters:
            line.send_message(letter)


@contextmanager
def sink() -> Iterator[int]:
    """In a process of its own, as a mail server is."""
    port = mailserver.free_port()
    server = subprocess.Popen([sys.executable, "-m", "benchmarks.doorbell", str(port)], cwd=ROOT)
    try:
        _wait_for(port)
        yield port
    finally:
        server.kill()
        server.wait()


@contextmanager
def engine(home: Path) -> Iterator[Callable[[], float]]:
    """Seconds that two worker processes take for a full queue of empty tasks: put there while they are frozen."""
    port = mailserver.free_port()
    env = os.environ | {"DOORBELL_BROKER": f"redis://127.0.0.1:{port}/0"}
    worker = processes.worker()
    worker[worker.index("clinic.config.celery")] = "benchmarks.doorbell"
    children = [
        Child(name="redis", command=processes.redis(port=port, folder=home), log=home / "redis.log"),
        Child(name="worker", command=worker, log=home / "worker.log"),
    ]
    with Supervisor(env=env, cwd=ROOT, children=children):
        _wait_for(port)
        import redis  # noqa: PLC0415

        from benchmarks.doorbell import app, ring  # noqa: PLC0415

        app.conf.update(broker_url=env["DOORBELL_BROKER"])
        queue = redis.Redis(port=port)
        ring.delay()
        _wait_until_empty(queue)
        yield partial(_drain, ring, children[1], queue)


def _drain(ring: Any, worker: Child, queue: Any) -> float:
    worker.send(signal.SIGSTOP)
    for _ in range(RINGS):
        ring.delay()
    began = time.perf_counter()
    worker.send(signal.SIGCONT)
    _wait_until_empty(queue)
    return time.perf_counter() - began


def _wait_until_empty(queue: Any) -> None:
    while queue.llen("celery") or queue.hlen("unacked"):
        time.sleep(0.005)


def _wait_for(port: int) -> None:
    for _ in range(400):
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
            return
        time.sleep(0.05)
    raise TimeoutError(f"nobody answers at {port}")


def _timed(work: Callable[[], object], *, times: int = 1) -> float:
    """Seconds for one of them."""
    began = time.perf_counter()
    for _ in range(times):
        work()
    return (time.perf_counter() - began) / times
