"""The tick: no data comes in, none goes out. A lost or doubled one changes nothing."""

from celery import shared_task

from clinic.messages import visits
from clinic.messages.health import SWEEP, beat
from clinic.messages.sweep import sweep_while_full
from clinic.trail.clock import now, real_now


@shared_task(name=SWEEP, ignore_result=True)
def sweep_messages() -> None:
    sweep_while_full(now=now())
    # After the sweep: a loop that only ever starts is no healthy loop.
    beat(SWEEP, real_now=real_now())


@shared_task(name="messages.tidy")
def tidy() -> None:
    visits.forget_old(real_now=real_now())
