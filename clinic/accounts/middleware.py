"""Between the browser and every view: what may be kept of a page, who is there, and for how long."""

from collections.abc import Callable, Mapping, Sequence
from typing import cast

from django.conf import settings
from django.contrib.auth import logout
from django.contrib.sessions.middleware import SessionMiddleware
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.middleware.locale import LocaleMiddleware
from django.shortcuts import resolve_url
from django.urls import reverse
from django.utils import translation

from clinic.accounts import sessions
from clinic.accounts.doors import door_of, go, with_way_back
from clinic.accounts.languages import speak
from clinic.accounts.models import Site, User
from clinic.accounts.rights import NotAllowed
from clinic.accounts.views import problems
from clinic.trail.clock import real_now

Respond = Callable[[HttpRequest], HttpResponseBase]

PRIVACY_HEADERS: Mapping[str, str] = {
    # Shared computers: nothing of a page stays in the browser's cache or behind its back button.
    "Cache-Control": "no-store",
    "Referrer-Policy": settings.SECURE_REFERRER_POLICY,
    "Permissions-Policy": "browsing-topics=(), camera=(), display-capture=(), geolocation=(), microphone=(), "
    "payment=(), serial=(), usb=()",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Robots-Tag": "noindex, nofollow",
}


class PrivacyHeaders:
    def __init__(self, get_response: Respond) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        for name, value in PRIVACY_HEADERS.items():
            # A view may have been stricter, or (a calendar feed, a worker script) have had a reason.
            response.headers.setdefault(name, value)
        return response


class ThriftySessionMiddleware(SessionMiddleware):
    """Django's sessions; use is written down at most once a minute, and only where `IdleLock` saw a person."""

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        if vars(request).get("counts_as_use"):
            sessions.touch(request, real_now())
        return super().process_response(request, response)


class ClosedByDefault:
    """A view without a door is refused to everybody, and a refusal by an action is a 403."""

    def __init__(self, get_response: Respond) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_view(
        self, _request: HttpRequest, view: Callable[..., object], _args: Sequence[object], _kwargs: Mapping[str, object]
    ) -> None:
        if door_of(view) is None:
            raise PermissionDenied(f"{view} has no door.")

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        return problems.forbidden(request, exception) if isinstance(exception, NotAllowed) else None


class SpokenLanguage(LocaleMiddleware):
    """What the browser asks for, as far as it is spoken here."""

    def process_request(self, request: HttpRequest) -> None:
        super().process_request(request)
        request.LANGUAGE_CODE = speak(translation.get_language())


class IdleLock:
    """A session ends after eight hours; a screen locks after five minutes that nobody used it."""

    def __init__(self, get_response: Respond) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., object], _args: Sequence[object], kwargs: Mapping[str, object]
    ) -> HttpResponse | None:
        if not request.user.is_authenticated:
            return None
        door, now = door_of(view), real_now()
        stays_open = door is not None and door.stays_open(request, kwargs)
        # An open treatment is not cut off in the middle; everything else is.
        if sessions.is_long_over(request, now) or (sessions.is_over(request, now) and not stays_open):
            logout(request)
            return go(request, with_way_back(request, resolve_url(settings.LOGIN_URL)))
        if sessions.is_locked(request, now):
            return None if stays_open else go(request, with_way_back(request, reverse("lock")))
        by_itself = request.headers.get("X-Background") == "1" or (door is not None and door.background)
        vars(request)["counts_as_use"] = not by_itself
        return None


class CurrentSite:
    """Which of the person's sites the pages are about, and who acts."""

    def __init__(self, get_response: Respond) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        user = request.user if isinstance(request.user, User) else None
        vars(request)["site"] = current_site(user, request.session.get(sessions.SITE)) if user else None
        vars(request)["actor"] = user.actor if user else None
        if user:
            request.LANGUAGE_CODE = speak(user.language)
        return self.get_response(request)


def current_site(user: User, chosen: object) -> Site | None:
    sites = list(Site.objects.visible_to(user).select_related("practice"))
    return next((site for site in sites if site.pk == chosen), sites[0] if sites else None)


def site_of(request: HttpRequest) -> Site | None:
    return cast("Site | None", vars(request).get("site"))
