"""Days that pass in a life: what falls due on the way happens at its own time, as the beat would have rung it."""

from datetime import date, datetime, timedelta

from clinic.messages.models import DueMessage, State
from clinic.messages.sweep import sweep_until_settled
from whitening.demo.world.lives import Life
from whitening.demo.world.passing import living_at
from whitening.recall.actions import tick
from whitening.recall.models import FollowUp, FollowUpState


def live_until(life: Life, until: datetime) -> None:
    """Afterwards it is `until`, unless it was later already."""
    while (at := _next(life, until)) is not None:
        life.now = max(life.now, at)
        _ring(life.now)
    life.now = max(life.now, until)


def last_weekday_before(today: date) -> date:
    day = today - timedelta(days=1)
    return day - timedelta(days=max(0, day.weekday() - 4))


def _ring(now: datetime) -> None:
    with living_at(now):
        tick(now=now)
        sweep_until_settled(now=now)


def _next(life: Life, until: datetime) -> datetime | None:
    """When the next message or follow-up of this patient falls due."""
    messages = DueMessage.objects.filter(patient=life.patient, state__in=[State.PLANNED, State.DUE])
    followups = FollowUp.objects.filter(case=life.case)
    moments = (
        messages.order_by("due_at").values_list("due_at", flat=True).first(),
        followups.filter(state=FollowUpState.WAITING).order_by("due_at").values_list("due_at", flat=True).first(),
        # Of those that wait for an answer: a review that stands in the diary is one, so it is never called about.
        followups.filter(state=FollowUpState.ASKED, call_by__gt=life.now)
        .order_by("call_by")
        .values_list("call_by", flat=True)
        .first(),
    )
    due = [at for at in moments if at is not None and at <= until]
    return min(due, default=None)
