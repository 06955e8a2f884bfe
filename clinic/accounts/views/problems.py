"""Pages that say what went wrong. They ask the database nothing, so they work when it does not."""

from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string


def bad_request(_request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page("400", HTTPStatus.BAD_REQUEST)


def forbidden(_request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page("403", HTTPStatus.FORBIDDEN)


def not_found(_request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page("404", HTTPStatus.NOT_FOUND)


def server_error(_request: HttpRequest) -> HttpResponse:
    return _page("500", HTTPStatus.INTERNAL_SERVER_ERROR)


def csrf_failure(_request: HttpRequest, reason: str = "") -> HttpResponse:
    return _page("csrf", HTTPStatus.FORBIDDEN)


def too_many(_request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page("429", HTTPStatus.TOO_MANY_REQUESTS)


def _page(name: str, status: HTTPStatus) -> HttpResponse:
    return HttpResponse(render_to_string(f"errors/{name}.html"), status=status)
