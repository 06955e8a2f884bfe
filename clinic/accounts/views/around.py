"""What we add around views of the sign-in library."""

from collections.abc import Callable
from functools import wraps

from django.http import HttpRequest, HttpResponseBase

from clinic.accounts import sessions
from clinic.accounts.models import User

# Cookies too, so that the language and names choices of one person do not greet the next.
CLEAR_SITE_DATA = '"cache", "cookies", "storage"'
LibraryView = Callable[..., HttpResponseBase]


def ends_the_session(view: LibraryView) -> LibraryView:
    """The session ends on the server, and the shared computer's browser is told to forget."""

    @wraps(view)
    def leaving(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponseBase:
        was_here = request.user.is_authenticated
        response = view(request, *args, **kwargs)
        if was_here and not request.user.is_authenticated:
            response.headers["Clear-Site-Data"] = CLEAR_SITE_DATA
        return response

    return leaving


def shows_the_factor(view: LibraryView) -> LibraryView:
    """Whoever has just set up a second factor has typed a code of it: nobody is asked for one again at once."""

    @wraps(view)
    def enrolling(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponseBase:
        user = request.user
        had_one = isinstance(user, User) and sessions.has_factor(user)
        response = view(request, *args, **kwargs)
        if isinstance(user, User) and not had_one and sessions.has_factor(user):
            sessions.factor_was_shown(request)
        return response

    return enrolling
