"""Days that pass in a life: what falls due on the way happens at its own time, as the beat would have rung it."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from clinic.diary.actions import lapse_due
from clinic.diary.models import Booking, Status
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


def all_live_until(everybody: Iterable[Life], until: datetime) -> None:
    """The same for all of them together, each moment once and in its order; pencilled times lapse on the way."""
    lives = list(everybody)
    at = None
    while (at := _next_of(lives, until, after=at)) is not None:
        with living_at(at):
            lapse_due(now=at)
        _ring(at)
    for life in lives:
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


def _next_of(lives: list[Life], until: datetime, *, after: datetime | None) -> datetime | None:
    """The first of these moments that has not been rung: what a ring leaves open is not waited for."""
    patients, cases = [life.patient.pk for life in lives], [life.case.pk for life in lives]
    messages = DueMessage.objects.filter(patient__in=patients, state__in=[State.PLANNED, State.DUE])
    followups = FollowUp.objects.filter(case__in=cases)
    pencilled = Booking.objects.filter(patient__in=patients, status=Status.PROPOSED)
    dates = (
        (messages, "due_at"),
        (followups.filter(state=FollowUpState.WAITING), "due_at"),
        (followups.filter(state=FollowUpState.ASKED), "call_by"),
        (pencilled, "lapses_at"),
    )
    asked = [rows.filter(**{f"{name}__lte": until}).order_by(name).values_list(name, flat=True) for rows, name in dates]
    due = [
        rows.filter(**{f"{name}__gt": after}) if after else rows for rows, (_, name) in zip(asked, dates, strict=True)
    ]
    return min((at for rows in due if (at := rows.first()) is not None), default=None)
