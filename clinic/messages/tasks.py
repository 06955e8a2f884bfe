"""The tick: no data comes in, none goes out. A lost or doubled one changes nothing."""

from celery import shared_task
from django.conf import settings

from clinic.messages import visits
from clinic.messages.actions.mailing_back import take
from clinic.messages.health import MAILBOX, SWEEP, beat, forget
from clinic.messages.mailbox.fetching import each_unread, place_of
from clinic.messages.sweep import sweep_while_full
from clinic.trail.clock import now, real_now


@shared_task(name=SWEEP, ignore_result=True)
def sweep_messages() -> None:
    sweep_while_full(now=now())
    # After the sweep: a loop that only ever starts is no healthy loop.
    beat(SWEEP, real_now=real_now())


@shared_task(name=MAILBOX, ignore_result=True)
def read_mailbox() -> None:
    """Where no mailbox is set up (any more), no loop is missed."""
    if not settings.MAILBOX_URL:
        forget(MAILBOX)
        return
    each_unread(place_of(settings.MAILBOX_URL), lambda content: take(content, now=now()))
    beat(MAILBOX, real_now=real_now())


@shared_task(name="messages.tidy")
def tidy() -> None:
    visits.forget_old(real_now=real_now())
