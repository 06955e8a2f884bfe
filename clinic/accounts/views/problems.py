"""Pages that say what went wrong. They ask the database nothing, so they work when it does not."""

import sys
from collections.abc import Sequence
from http import HTTPStatus

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

RETRY_AFTER_SECONDS = "30"


def bad_request(_request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page("400", HTTPStatus.BAD_REQUEST)


def forbidden(_request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page("403", HTTPStatus.FORBIDDEN)


def not_found(_request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page("404", HTTPStatus.NOT_FOUND)


def not_allowed(_request: HttpRequest, *, methods: Sequence[str], back: str, for_staff: bool) -> HttpResponse:
    """For a browser that opens an address made for forms: by reloading, a bookmark, or on the way from signing in."""
    page = _page("405", HTTPStatus.METHOD_NOT_ALLOWED, back=back, for_staff=for_staff)
    page.headers["Allow"] = ", ".join(methods)
    return page


def server_error(_request: HttpRequest) -> HttpResponse:
    # Called while the exception is being handled, and the only way to learn which one it is.
    if isinstance(sys.exception(), _away()):
        return unavailable()
    return _page("500", HTTPStatus.INTERNAL_SERVER_ERROR)


def _away() -> tuple[type[Exception], ...]:
    """A server beside ours is restarting, or too busy: nobody has to be told of a fault, only to wait."""
    # Not every installation has a Redis; those without need not load its client.
    from redis.exceptions import ConnectionError as RedisGone  # noqa: PLC0415
    from redis.exceptions import TimeoutError as RedisSilent  # noqa: PLC0415

    return InterfaceError, OperationalError, RedisGone, RedisSilent


def unavailable() -> HttpResponse:
    page = _page("503", HTTPStatus.SERVICE_UNAVAILABLE)
    page.headers["Retry-After"] = RETRY_AFTER_SECONDS
    return page


def csrf_failure(_request: HttpRequest, reason: str = "") -> HttpResponse:
    return _page("csrf", HTTPStatus.FORBIDDEN)


def too_many(_request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page("429", HTTPStatus.TOO_MANY_REQUESTS)


def _page(name: str, status: HTTPStatus, **context: object) -> HttpResponse:
    return HttpResponse(render_to_string(f"errors/{name}.html", context), status=status)
