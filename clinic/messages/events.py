"""Reports of the mail provider, as django-anymail reads them for each: what arrived, what came back.

The practice switches them on with a secret that only the provider knows; where the provider signs its reports and
its key is set, the signature is checked too. Anything else that is reported (opened, clicked) is not looked at.
"""

import logging
from collections.abc import Callable
from typing import Any

from anymail.signals import EventType, tracking
from anymail.urls import urlpatterns
from django.conf import settings
from django.http import HttpResponseBase

from clinic.messages.actions.reporting import arrived, came_back
from clinic.trail.clock import now

logger = logging.getLogger(__name__)
_BACKEND = "anymail.backends."
_COME_BACK = {EventType.BOUNCED, EventType.REJECTED, EventType.FAILED}


def receiver() -> Callable[..., HttpResponseBase] | None:
    """Who reads the reports of this practice's provider; None where there is none, or no secret is set."""
    if not settings.EMAIL_BACKEND.startswith(_BACKEND) or not settings.ANYMAIL.get("WEBHOOK_SECRET"):
        return None
    provider = settings.EMAIL_BACKEND.removeprefix(_BACKEND).partition(".")[0]
    found = (each.callback for each in urlpatterns if each.name == f"{provider}_tracking_webhook")
    return next(found, None)


def listen() -> None:
    tracking.connect(_report, dispatch_uid="clinic.messages.events")


def _report(*, event: Any, **_more: object) -> None:
    """An unknown id is no error: the provider may carry other mails of the practice."""
    if not event.message_id:
        return
    if event.event_type == EventType.DELIVERED:
        known = arrived(provider_id=event.message_id, now=now())
    elif event.event_type in _COME_BACK:
        known = came_back(provider_id=event.message_id, now=now())
    else:
        return
    logger.info("The mail provider reported %s about message %s.", event.event_type, known.pk if known else "unknown")
