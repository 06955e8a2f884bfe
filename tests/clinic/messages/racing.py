"""Run as a program of its own, so that a race is one between processes.

`race N`, `pairs N`, `prepare N`, `sweep N` (of N messages), `look`, `expire`, `wait STATE`: see test_processes.py.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys
import time
from dataclasses import replace
from datetime import datetime, timedelta

import django

django.setup()

import pytest  # noqa: E402  (models exist only now)
from django.db import transaction  # noqa: E402
from django.db.models import Count, Q  # noqa: E402

from clinic.messages import kinds  # noqa: E402
from clinic.messages.actions import plan  # noqa: E402
from clinic.messages.models import DueMessage, Heartbeat  # noqa: E402
from clinic.messages.sweep import sweep, sweep_until_settled  # noqa: E402
from clinic.patients.models import Patient  # noqa: E402
from clinic.trail.clock import now  # noqa: E402
from tests.at_once import at_once  # noqa: E402
from tests.cast import NOW, Cast, open_practice  # noqa: E402
from tests.clinic.messages import writing  # noqa: E402

CODE = "test_race"


def register() -> None:
    """A safety message without a link: no limit per day stands in the way of the race."""
    writing.register(writing.Wishes(), pytest.MonkeyPatch())
    check = kinds.get(writing.CHECK)
    kinds.register(replace(check, code=CODE, link=None, on_request=True))


def prepare(count: int) -> None:
    cast = open_practice()
    with transaction.atomic():
        for number in range(count):
            planned(CODE, cast, cast.patient, step=number % 100)


def planned(kind: str, cast: Cast, patient: Patient, *, step: int, due_at: datetime = NOW) -> None:
    plan(
        kind=kind,
        subject=("patient", patient.pk),
        version=1,
        step=step,
        patient=patient,
        site=cast.fernbrook,
        due_at=due_at,
        not_after=now().replace(year=now().year + 1),
        now=NOW,
    )


def pairs(count: int) -> dict[str, object]:
    """Two reminders for each of so many patients, while no more than one a day may go: two sweeps share them out."""
    cast = open_practice()
    with transaction.atomic():
        for number in range(count):
            patient = writing.another(cast, number)
            # The younger row is due first: when the older one begins, it is under way already.
            for step in range(2):
                due_at = NOW - timedelta(minutes=2 * (count - number) + step)
                planned(writing.REMINDER, cast, patient, step=step, due_at=due_at)
    claimed = at_once([one_by_one] * 2)
    met = sent_to_each()
    # What waited for the other is free again.
    DueMessage.objects.update(lease_until=None)
    sweep_until_settled(now=NOW)
    return {"claimed": claimed, "met": met, "in_the_end": sent_to_each()}


def one_by_one() -> int:
    """One row at a time: what belongs to one patient then comes to two sweeps at the same moment."""
    claimed = 0
    while sweep(now=NOW, limit=1).claimed:
        claimed += 1
    return claimed


def sent_to_each() -> list[int]:
    sent = Count("messages", filter=Q(messages__state="handed_over"))
    return list(Patient.objects.exclude(messages=None).annotate(sent=sent).values_list("sent", flat=True))


def sweep_until_empty() -> int:
    claimed = 0
    # Small bites, so that the processes meet often.
    while (done := sweep(now=now(), limit=5)).claimed:
        claimed += done.claimed
    return claimed


def look() -> dict[str, object]:
    rows = DueMessage.objects.order_by("pk")
    return {
        "states": list(rows.values_list("state", flat=True)),
        "attempts": list(rows.values_list("attempt", flat=True)),
        "ids": list(rows.values_list("message_id", flat=True)),
    }


def race(count: int) -> dict[str, object]:
    prepare(count)
    return {"claimed": at_once([sweep_until_empty] * 2), **look()}


def expire() -> dict[str, object]:
    DueMessage.objects.update(lease_until=NOW)
    sweep(now=now())
    return look()


def wait_for(state: str) -> list[str]:
    """Until all messages are in that state, and a beat has been noted."""
    while {*DueMessage.objects.values_list("state", flat=True)} != {state} or not Heartbeat.objects.exists():
        time.sleep(0.1)
    return list(Heartbeat.objects.values_list("name", flat=True))


def main(command: str, *words: str) -> None:
    register()
    answer: object = None
    if command == "race":
        answer = race(int(words[0]))
    elif command == "pairs":
        answer = pairs(int(words[0]))
    elif command == "prepare":
        prepare(int(words[0]))
    elif command == "sweep":
        prepare(int(words[0]))
        answer = sweep_until_empty()
    elif command == "expire":
        answer = expire()
    elif command == "wait":
        answer = wait_for(words[0])
    else:
        answer = look()
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
