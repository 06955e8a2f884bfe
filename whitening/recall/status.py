"""What is due and how old it is, as counts and ages alone: nothing about anybody."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Min, Model, QuerySet
from django_stubs_ext import StrOrPromise

from clinic.messages.models import DueMessage, State
from whitening.recall.models import Escalation, FollowUp, FollowUpState


@dataclass(frozen=True, slots=True)
class Line:
    """late: how long ago the oldest of them was due; below zero where all are still to come."""

    what: StrOrPromise
    count: int
    late: timedelta


# What is not settled; what has gone out or was called off is history.
WAITING = [State.PLANNED, State.DUE, State.CLAIMED, State.HANDING_OVER, State.UNCERTAIN, State.FAILED, State.MISSED]


def messages(now: datetime) -> Iterator[Line]:
    yield from _lines(DueMessage.objects.filter(state__in=WAITING), State.choices, now)


def follow_ups(now: datetime) -> Iterator[Line]:
    yield from _lines(FollowUp.objects.open(), FollowUpState.choices, now)


def worries(now: datetime) -> Line | None:
    found = Escalation.objects.open().aggregate(count=Count("pk"), oldest=Min("due_at"))
    return Line("", found["count"], now - found["oldest"]) if found["count"] else None


def _lines(rows: "QuerySet[Model]", labels: Iterable[tuple[str, StrOrPromise]], now: datetime) -> Iterator[Line]:
    """In the order of the states. One query."""
    counted = rows.order_by().values("state").annotate(count=Count("pk"), oldest=Min("due_at"))
    found = {row["state"]: row for row in counted}
    for state, label in labels:
        if state in found:
            yield Line(label, found[state]["count"], now - found[state]["oldest"])
