"""Thin: the tick carries no data; a lost or doubled one changes nothing."""

from celery import shared_task

from clinic.accounts import sessions


@shared_task(name="accounts.tidy")
def tidy() -> None:
    sessions.clear_expired()
