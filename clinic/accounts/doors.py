"""Every view stands behind a door. A view without one is refused, so a forgotten decorator opens nothing.

`staff` is the usual door; `public` must say why anybody may come in. The door of a patient's private
link is made elsewhere, from the same `Door`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import wraps
from typing import Concatenate, Literal, ParamSpec, cast

from django.conf import settings
from django.contrib.auth import REDIRECT_FIELD_NAME
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseNotAllowed, HttpResponseRedirect
from django.shortcuts import resolve_url
from django.urls import Resolver404, resolve
from django.utils.http import urlencode
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails

from clinic.accounts import sessions
from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, may, needs_second_factor
from clinic.accounts.views import problems
from clinic.trail.actor import Actor

P = ParamSpec("P")
LOOKING = frozenset({"GET", "HEAD"})
View = Callable[Concatenate[HttpRequest, P], HttpResponseBase]
# Says whether this view, with these arguments from its address, stays in reach of a locked screen.
WhileLocked = Callable[[HttpRequest, Mapping[str, object]], bool]


class StaffRequest(HttpRequest):
    """What a view behind a staff door is given."""

    user: User
    site: Site  # type: ignore[assignment]  # the stubs think of another framework's sites here
    actor: Actor
    htmx: HtmxDetails


@dataclass(frozen=True, kw_only=True)
class Door:
    kind: Literal["staff", "public", "patient"]
    methods: tuple[str, ...] = ("GET",)
    capability: Capability | None = None
    reason: str = ""
    # What a page asks for by itself never keeps a session awake.
    background: bool = False
    # Open to a signed-in person who has no second factor yet, or whose screen is locked.
    before_factor: bool = False
    while_locked: WhileLocked | bool = False

    def admits(self, method: str | None) -> bool:
        return method in self.methods or (method == "HEAD" and "GET" in self.methods)

    def stays_open(self, request: HttpRequest, arguments: Mapping[str, object]) -> bool:
        if self.kind != "staff":
            return True
        return self.while_locked if isinstance(self.while_locked, bool) else self.while_locked(request, arguments)


def staff(
    capability: Capability,
    *,
    methods: tuple[str, ...] = ("GET",),
    background: bool = False,
    before_factor: bool = False,
    while_locked: WhileLocked | bool = False,
) -> Callable[[Callable[Concatenate[StaffRequest, P], HttpResponseBase]], View[P]]:
    """Signed in, second factor shown where the role asks for one, method known, capability held at this site.

    Where the address names one row, which may be another site's: held anywhere. Such a view gets the row through an
    access function, which asks for the capability again, at the row's own site; a test reads every view for it.
    """
    door = Door(
        kind="staff",
        methods=methods,
        capability=capability,
        background=background,
        before_factor=before_factor,
        while_locked=while_locked,
    )

    def decorate(view: Callable[Concatenate[StaffRequest, P], HttpResponseBase]) -> View[P]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            answer = _refusal(request, door, names_a_row=any(name.endswith("pk") for name in kwargs))
            return answer or view(cast(StaffRequest, request), *args, **kwargs)

        return hang(guarded, door)

    return decorate


def public(*, reason: str, methods: tuple[str, ...] = ("GET",)) -> Callable[[View[P]], View[P]]:
    """Anybody, signed in or not. The reason stands in the table of permissions for the next reader."""
    door = Door(kind="public", methods=methods, reason=reason)

    def decorate(view: View[P]) -> View[P]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if not door.admits(request.method):
                return not_allowed(request, door)
            return view(request, *args, **kwargs)

        return hang(guarded, door)

    return decorate


def hang(view: View[P], door: Door) -> View[P]:
    vars(view)["door"] = door
    return view


def door_of(view: Callable[..., object]) -> Door | None:
    return cast("Door | None", getattr(view, "door", None))


def go(request: HttpRequest, to: str) -> HttpResponse:
    """Sends the whole page there, also when only a part of it was asked for."""
    if getattr(request, "htmx", None):
        return HttpResponseClientRedirect(to)
    response = HttpResponseRedirect(to)
    # A form that was sent is not sent again to where it leads.
    response.status_code = 302 if request.method in LOOKING else 303
    return response


def not_allowed(request: HttpRequest, door: Door) -> HttpResponse:
    """A page with a way back for who looks; a bare refusal for a script, and for what no browser sends by itself."""
    if getattr(request, "htmx", None) or request.method not in LOOKING:
        return HttpResponseNotAllowed(door.methods)
    return problems.not_allowed(
        request, methods=door.methods, back=nearest_page(request.path), for_staff=door.kind == "staff"
    )


def way_back(request: HttpRequest) -> str:
    """Where to return to afterwards: the page on the screen, never the part or the form it asked for."""
    htmx = getattr(request, "htmx", None)
    if htmx:
        return nearest_page(htmx.current_url_abs_path or "")
    return nearest_page(request.get_full_path()) if request.method in LOOKING else ""


def nearest_page(address: str) -> str:
    """The address itself where it shows a page. One that only takes forms lies under the page with its form."""
    path = address.partition("?")[0]
    if opens(path):
        return address
    while path.strip("/"):
        path = path.rstrip("/").rpartition("/")[0] + "/"
        # Not the very first page: a patient's browser has no business there, and staff are offered it anyway.
        if path != "/" and opens(path):
            return path
    return ""


def opens(path: str) -> bool:
    try:
        door = door_of(resolve(path).func)
    except Resolver404:
        return False
    return door is not None and door.admits("GET")


def with_way_back(request: HttpRequest, address: str) -> str:
    back = way_back(request)
    return f"{address}?{urlencode({REDIRECT_FIELD_NAME: back})}" if back else address


def _refusal(request: HttpRequest, door: Door, *, names_a_row: bool) -> HttpResponse | None:
    user = request.user
    if not isinstance(user, User):
        return go(request, with_way_back(request, resolve_url(settings.LOGIN_URL)))
    if not sessions.factor_shown(request) and (door.before_factor or needs_second_factor(user)):
        way = sessions.way_to_second_factor(request, user, enrols=not door.before_factor)
        if way:
            return go(request, way)
    if not door.admits(request.method):
        return not_allowed(request, door)
    site = None if names_a_row else cast("Site | None", vars(request).get("site"))
    if door.capability is None or not may(user, door.capability, site):
        raise PermissionDenied
    return None
