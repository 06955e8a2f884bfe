"""The tick: no data comes in, none goes out. A lost or doubled one changes nothing."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from hashlib import sha256

from celery import shared_task
from django.conf import settings
from django.core.cache import cache

from clinic.messages import visits
from clinic.messages.actions.mailing_back import take
from clinic.messages.health import MAILBOX, SWEEP, beat, forget
from clinic.messages.mailbox.fetching import Place, each_unread, place_of
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
    place = place_of(settings.MAILBOX_URL)
    with _looked_at(place) as looked:
        each_unread(place, lambda content: take(content, now=now()), looked=looked)
    beat(MAILBOX, real_now=real_now())


@contextmanager
def _looked_at(place: Place) -> Iterator[set[str]]:
    """In the cache: where it is lost, those mails are looked at once more, and that is all."""
    mailbox = repr(replace(place, password=""))
    key = f"messages.mailbox.{sha256(mailbox.encode()).hexdigest()}"
    before: frozenset[str] = cache.get(key, frozenset())
    looked = set(before)
    try:
        yield looked
    finally:
        if not looked <= before:
            cache.set(key, frozenset(looked), timeout=None)


@shared_task(name="messages.tidy")
def tidy() -> None:
    visits.forget_old(real_now=real_now())
