"""Thin: the tick carries no data; a lost or doubled one changes nothing."""

from celery import shared_task

from clinic.trail.clock import now
from whitening.recall.actions import tick


@shared_task(name="recall.tick")
def recall_tick() -> None:
    tick(now=now())
