"""Rung by the beat (settings); both may be lost or doubled without harm."""

from celery import shared_task

from clinic.trail import clock, sealing


@shared_task(name="trail.seal")
def seal() -> None:
    sealing.seal_tick(clock.real_now())


@shared_task(name="trail.anchor")
def anchor() -> None:
    sealing.anchor_tick(clock.real_now())
