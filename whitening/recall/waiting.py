"""Worrying answers as lists show them: how long each has waited, whether it is overdue, who has taken it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from whitening.recall.models import Escalation
from whitening.recall.raising import is_overdue


@dataclass(frozen=True, slots=True)
class Waiting:
    escalation: Escalation
    waited: timedelta
    is_overdue: bool


def waiting(escalations: Iterable[Escalation], *, now: datetime) -> list[Waiting]:
    return [
        Waiting(
            escalation=one,
            waited=max(now - one.raised_at, timedelta(0)),
            is_overdue=one.closed_at is None and is_overdue(due_at=one.due_at, taken_at=one.taken_at, now=now),
        )
        for one in escalations
    ]
