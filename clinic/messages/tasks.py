"""The tick: no data comes in, none goes out. A lost or doubled one changes nothing."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from hashlib import sha256

from celery import shared_task
from django.conf import settings
from django.core.cache import cache
from django.db import transaction

from clinic.messages import visits
from clinic.messages.actions.mailing_back import take
from clinic.messages.health import MAILBOX, SWEEP, beat, forget
from clinic.messages.mailbox.fetching import Known, Place, each_unread, place_of
from clinic.messages.models import TroubleMail
from clinic.messages.sweep import sweep_while_full
from clinic.trail.clock import now, real_now

BESIDE_SECONDS = 20


@shared_task(name=SWEEP, ignore_result=True)
def sweep_messages() -> None:
    sweep_while_full(now=now())
    # After the sweep: a loop that only ever starts is no healthy loop.
    beat(SWEEP, real_now=real_now())


@shared_task(name="messages.sweep_beside", ignore_result=True)
def sweep_beside() -> None:
    """The same in the worker's second process: where many are due, one hands over while the other waits for the mail
    server or the disk. It leaves off sooner, so that the other loops are not kept waiting.
    """
    sweep_while_full(now=now(), seconds=BESIDE_SECONDS)


@shared_task(name=MAILBOX, ignore_result=True)
def read_mailbox() -> None:
    """Where no mailbox is set up (any more), no loop is missed."""
    if not settings.MAILBOX_URL:
        forget(MAILBOX)
        TroubleMail.objects.all().delete()
        return
    place = place_of(settings.MAILBOX_URL)
    with _known(place) as known:
        each_unread(place, lambda content: take(content, now=now()), known=known)
    beat(MAILBOX, real_now=real_now())


@contextmanager
def _known(place: Place) -> Iterator[Known]:
    """What was looked at is in the cache: where it is lost, those mails are looked at once more, and that is all.

    What could not be taken is in a table: staff are told of it.
    """
    mailbox = repr(replace(place, password=""))
    key = f"messages.mailbox.{sha256(mailbox.encode()).hexdigest()}"
    before: frozenset[str] = cache.get(key, frozenset())
    troubles = dict(TroubleMail.objects.values_list("name", "tries"))
    known = Known(looked=set(before), troubles=dict(troubles), most_tries=TroubleMail.TRIES)
    try:
        yield known
    finally:
        if not known.looked <= before:
            cache.set(key, frozenset(known.looked), timeout=None)
        if known.troubles != troubles:
            _keep(known.troubles)


def _keep(troubles: dict[str, int]) -> None:
    with transaction.atomic():
        TroubleMail.objects.exclude(name__in=troubles).delete()
        for name, tries in troubles.items():
            TroubleMail.objects.update_or_create(name=name, defaults={"tries": tries})


@shared_task(name="messages.tidy")
def tidy() -> None:
    visits.forget_old(real_now=real_now())
