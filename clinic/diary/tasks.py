"""Thin: the tick carries no data; a lost or doubled one changes nothing."""

from celery import shared_task

from clinic.diary.actions import lapse_due
from clinic.trail.clock import now


@shared_task(name="diary.lapse")
def lapse() -> None:
    lapse_due(now=now())
