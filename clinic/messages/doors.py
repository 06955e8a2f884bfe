"""The door of the patient's pages: a link that was exchanged, is still open, and is meant for this page."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.http import urlencode

from clinic.accounts.doors import LOOKING, Door, View, go, hang, nearest_page, not_allowed
from clinic.accounts.languages import speaking
from clinic.accounts.models import Site
from clinic.messages import pages, visits
from clinic.messages.models import Ended, LinkVisit, PrivateLink
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.clock import now, real_now

P = ParamSpec("P")
ANY = "*"
# How a link ends by what its own page does: at once, or when the message about it goes out with a newer one.
_DONE = frozenset({Ended.DONE, Ended.NEWER})


class PatientRequest(HttpRequest):
    """What a view behind a patient's door is given."""

    link: PrivateLink
    visit: LinkVisit
    patient: Patient
    site: Site  # type: ignore[assignment]  # django.contrib.sites, which is not installed, claims the name
    actor: Actor


def patient(
    purpose: str | tuple[str, ...],
    *,
    methods: tuple[str, ...] = ("GET",),
    code_needed: bool = False,
    write_only_ok: bool = False,
    known_needed: bool = True,
    done_ok: bool = False,
) -> Callable[[Callable[Concatenate[PatientRequest, P], HttpResponseBase]], View[P]]:
    """`write_only_ok`: a link printed as a QR code may come here; such a page shows no record.

    `done_ok`: the page that says what was just done, in the browser that did it, which ended the link.
    """
    purposes = (purpose,) if isinstance(purpose, str) else purpose
    door = Door(kind="patient", methods=methods, reason=", ".join(purposes))

    def decorate(view: Callable[Concatenate[PatientRequest, P], HttpResponseBase]) -> View[P]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if not door.admits(request.method):
                return not_allowed(request, door)
            visit = visits.current(request, real_now=real_now())
            if visit is not None and pages.is_of_another(request, visit.link):
                return pages.of_another(request, link=visit.link)
            if visit is None or not _fits(visit.link, purposes, write_only_ok, done_ok):
                return pages.closed(request, link=visit.link if visit else None)
            elsewhere = _still_to_show(request, visit, known_needed=known_needed, code_needed=code_needed)
            if elsewhere is not None:
                return pages.private(elsewhere)
            return _enter(request, visit, lambda known: view(known, *args, **kwargs))

        return hang(guarded, door)

    return decorate


def _fits(link: PrivateLink, purposes: tuple[str, ...], write_only_ok: bool, done_ok: bool = False) -> bool:
    meant = ANY in purposes or link.purpose in purposes
    stands = link.is_open(now()) or (done_ok and link.ended_because in _DONE)
    return meant and stands and (write_only_ok or not link.write_only)


def _still_to_show(
    request: HttpRequest, visit: LinkVisit, *, known_needed: bool, code_needed: bool
) -> HttpResponse | None:
    if known_needed and visit.known_at is None:
        return _detour(request, "private_who")
    if code_needed and visit.code_passed_at is None:
        return _detour(request, "private_code")
    return None


def _detour(request: HttpRequest, name: str) -> HttpResponse:
    # Only a page can be returned to; a form that was sent is filled in again.
    back = nearest_page(request.get_full_path()) if request.method in LOOKING else ""
    return go(request, f"{reverse(name)}?{urlencode({'next': back})}" if back else reverse(name))


def _enter(
    request: HttpRequest, visit: LinkVisit, view: Callable[[PatientRequest], HttpResponseBase]
) -> HttpResponseBase:
    """In the patient's language, if it is spoken here, and on the site's clock; both are put back afterwards."""
    link = visit.link
    known = cast(PatientRequest, request)
    known.visit, known.link, known.patient, known.site = visit, link, link.patient, link.site
    known.actor = visits.patient_actor(link)
    with speaking(link.patient.language), timezone.override(link.site.zone):
        known.LANGUAGE_CODE = translation.get_language() or ""
        response = view(known)
        # The browser's own language is active again when this would be filled in.
        response.headers["Content-Language"] = known.LANGUAGE_CODE
        render = getattr(response, "render", None)
        if callable(render):
            render()
    return pages.private(response)
