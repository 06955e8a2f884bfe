"""Thin: the tick carries no data; a lost or doubled one changes nothing."""

from celery import shared_task

from clinic.messages.health import beat
from clinic.trail.clock import now, real_now
from whitening.recall.actions import tick

TICK = "recall.tick"


@shared_task(name=TICK)
def recall_tick() -> None:
    tick(now=now())
    # After it: where silence becomes no call any more, the page of health says so within two minutes.
    beat(TICK, real_now=real_now())
