"""Thin: the tick carries no data; a lost or doubled one changes nothing."""

from celery import shared_task

from clinic.diary.actions import end_holds_due, lapse_due
from clinic.diary.waitlist import offering
from clinic.trail.clock import now


@shared_task(name="diary.lapse")
def lapse() -> None:
    at = now()
    end_holds_due(now=at)
    lapse_due(now=at)
    offering.tick(now=at)
