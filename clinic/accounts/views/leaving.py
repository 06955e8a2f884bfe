"""Signing out of a shared computer: the session ends on the server, and the browser is told to forget."""

from collections.abc import Callable
from functools import wraps

from django.http import HttpRequest, HttpResponseBase

# Cookies too, so that the language and names choices of one person do not greet the next.
CLEAR_SITE_DATA = '"cache", "cookies", "storage"'


def ends_the_session(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    @wraps(view)
    def leaving(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponseBase:
        was_here = request.user.is_authenticated
        response = view(request, *args, **kwargs)
        if was_here and not request.user.is_authenticated:
            response.headers["Clear-Site-Data"] = CLEAR_SITE_DATA
        return response

    return leaving
