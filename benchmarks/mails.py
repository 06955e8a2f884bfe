"""A mail that is due beside the same mail in a bare loop: by one sweep, and as a practice runs it.

There each tick rings for two sweeps, one in each process of the worker, and what one has claimed the other skips. The
bare loop is one connection, one mail after the other, both times.
"""

import smtplib
import statistics
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import timedelta
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import Any

from benchmarks import crowd
from benchmarks.engine import PRODUCT, ROOT, Engine, engine, wait_for
from benchmarks.frame import ANY, LEAST_ROUNDS, Result, Target
from tests import mailserver

MAILS, DEPLOYED_MAILS = 100, 500
# The first one warms up.
ROUNDS = LEAST_ROUNDS + 1
LATER = timedelta(hours=6)
AS_DEPLOYED, BY_ONE = Target(limit=2.5, of="ratio"), Target(limit=ANY, of="ratio")
YARDSTICK = "the same mail in a bare smtplib loop"


def results(running: Any, home: Path) -> Iterator[Result]:
    (home / "mails").mkdir()
    crowd.connect(running, "mails", home=home / "mails")
    _fill(MAILS * (ROUNDS + 1) + DEPLOYED_MAILS * ROUNDS)
    _put_off(keep=MAILS * (ROUNDS + 1))
    with at_any_hour(EMAIL_BACKEND="django.core.mail.backends.locmem.EmailBackend"):
        letters = caught(one_sweep)
    size = {"bytes": sum(len(one.as_bytes()) for one in letters) // MAILS}
    with sink() as port:
        bare = partial(one_after_another, port, letters)
        with at_any_hour(EMAIL_HOST="127.0.0.1", EMAIL_PORT=port):
            pairs = [(_timed(one_sweep) / MAILS, _timed(bare) / MAILS) for _ in range(ROUNDS)]
        name = "messages: a mail, with a commit before and after, by one sweep alone"
        yield _judge(BY_ONE, name, pairs, size | {"mails": MAILS, "workers": 1})
        with deployed(running.url("mails"), port, home / "mails") as working:
            pairs = [(two_sweeps(working) / DEPLOYED_MAILS, _timed(bare) / MAILS) for _ in range(ROUNDS)]
        name = "messages: a mail, with a commit before and after, prefork 2"
        yield _judge(AS_DEPLOYED, name, pairs, size | {"mails": DEPLOYED_MAILS, "workers": 2})


def _judge(target: Target, name: str, pairs: Sequence[tuple[float, float]], size: dict[str, int]) -> Result:
    ours, theirs = (1e3 * statistics.median(column) for column in zip(*pairs[1:], strict=True))
    return target.judge(name, ours, YARDSTICK, theirs, size=size)


def _fill(count: int) -> None:
    from clinic.patients.models import Patient  # noqa: PLC0415  (Django is set up by now)
    from clinic.trail import keys  # noqa: PLC0415
    from clinic.trail.clock import real_now  # noqa: PLC0415
    from scripts.chaos import people  # noqa: PLC0415

    people.fill(count=count, spread_seconds=0, hurried_seconds=43_200, start_at=real_now())
    for pk in Patient.objects.values_list("pk", flat=True):
        # As after registration.
        keys.held(pk)


def _put_off(*, keep: int) -> None:
    """All but the first are due later."""
    from clinic.messages.models import DueMessage  # noqa: PLC0415

    first = list(DueMessage.objects.order_by("pk").values_list("pk", flat=True)[:keep])
    for message in DueMessage.objects.exclude(pk__in=first):
        DueMessage.objects.filter(pk=message.pk).update(due_at=message.due_at + LATER)


def one_sweep() -> None:
    from clinic.messages.sweep import sweep  # noqa: PLC0415
    from clinic.trail.clock import real_now  # noqa: PLC0415

    done = sweep(now=real_now(), limit=MAILS)
    assert done.states == {"handed_over": MAILS}, str(done)


def two_sweeps(working: Engine) -> float:
    """Seconds from the ring to the last mail of those that are due now."""
    from celery import Celery  # noqa: PLC0415

    from clinic.messages.models import DueMessage, State  # noqa: PLC0415
    from clinic.trail.clock import real_now  # noqa: PLC0415

    waiting = DueMessage.objects.filter(state=State.PLANNED).order_by("pk")
    due = list(waiting.values_list("pk", flat=True)[:DEPLOYED_MAILS])
    DueMessage.objects.filter(pk__in=due).update(due_at=real_now())
    bell = Celery(broker=working.address)

    def ring() -> None:
        for task in ("messages.sweep", "messages.sweep_beside"):
            bell.send_task(task, ignore_result=True)

    seconds = working.drain(ring)
    gone = DueMessage.objects.filter(pk__in=due, state=State.HANDED_OVER).count()
    assert gone == DEPLOYED_MAILS, f"{gone} of {DEPLOYED_MAILS} went out"
    return seconds


@contextmanager
def deployed(database_url: str, port: int, home: Path) -> Iterator[Engine]:
    env = {
        "CASEBOOK_DATABASE_URL": database_url,
        "CASEBOOK_EMAIL_URL": f"smtp://127.0.0.1:{port}",
        "CASEBOOK_MESSAGES_FROM_HOUR": "0",
        "CASEBOOK_MESSAGES_UNTIL_HOUR": "24",
    }
    with engine(home, app=PRODUCT, name_of_broker="CASEBOOK_BROKER_URL", env=env) as working:
        yield working


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
        wait_for(port)
        yield port
    finally:
        server.kill()
        server.wait()


def _timed(work: Callable[[], object]) -> float:
    began = perf_counter()
    work()
    return perf_counter() - began
