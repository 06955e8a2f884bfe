"""Figures for a monitor on this machine, or one that knows the token."""

import hmac
from ipaddress import ip_address

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from clinic.accounts.doors import public
from clinic.messages import metrics as figures
from clinic.trail.clock import now, real_now

BEARER = "Bearer "


@public(reason="a monitor has no account; it is on this machine or has the token, and the answer names nobody")
def metrics(request: HttpRequest) -> HttpResponse:
    if not (_knows_the_token(request) or _is_on_this_machine(request)):
        raise PermissionDenied
    content, kind = figures.text(now=now(), real_now=real_now())
    return HttpResponse(content, content_type=kind, headers={"Cache-Control": "no-store"})


def _knows_the_token(request: HttpRequest) -> bool:
    said = request.headers.get("Authorization", "")
    given = said.removeprefix(BEARER).encode() if said.startswith(BEARER) else b""
    return bool(settings.METRICS_TOKEN) and hmac.compare_digest(given, settings.METRICS_TOKEN.encode())


def _is_on_this_machine(request: HttpRequest) -> bool:
    """What a proxy on this machine passes on comes from this machine too; a proxy says that it does."""
    if "X-Forwarded-For" in request.headers or "Forwarded" in request.headers:
        return False
    try:
        return ip_address(request.META.get("REMOTE_ADDR", "")).is_loopback
    except ValueError:
        # A socket of this machine has no address; who may write to it is a matter of files.
        return False
