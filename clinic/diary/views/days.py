"""The diary: a day of all rooms or people, or a week of one of them; quarter hours down."""

from dataclasses import replace
from datetime import date, datetime

from django.http import Http404, HttpResponse, HttpResponseNotModified
from django.shortcuts import render
from django.urls import reverse
from django_stubs_ext import StrOrPromise

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.diary import live, marks, papers
from clinic.diary.looks import Look, links, look_of, resource_of, resources_to_see
from clinic.diary.models import Booking, Resource, ResourceKind
from clinic.diary.reading import Shown, of_day, of_week, read_day, read_week, week_of
from clinic.trail.clock import now

# Days that a diary can hold; beyond them the arithmetic of zones ends.
FIRST_YEAR, LAST_YEAR = 1970, 2200


@staff(Capability.DIARY_READ)
def today(request: StaffRequest) -> HttpResponse:
    return _day(request, now().astimezone(request.site.zone).date())


@staff(Capability.DIARY_READ)
def day(request: StaffRequest, day: str) -> HttpResponse:
    return _day(request, read_address(day))


@staff(Capability.DIARY_READ)
def week(request: StaffRequest, day: str) -> HttpResponse:
    at, look, site = now(), look_of(request.GET, day=read_address(day), is_week=True), request.site
    resource = resource_of(look, site)
    if resource is None:
        return _page(request, look, at, Shown((), (), ()), tag=live.tag_now(site, Booking.objects.none(), now=at))
    tag = live.tag_now(site, of_week(site, look.day, resource, now=at), now=at)
    if _is_fresh(request, tag):
        return HttpResponseNotModified()
    look = replace(look, kind=ResourceKind(resource.kind), of=resource.pk)
    return _page(request, look, at, read_week(site, look.day, resource=resource, now=at), tag=tag, of=resource)


def read_address(day: str) -> date:
    try:
        wanted = date.fromisoformat(day)
    except ValueError as error:
        raise Http404 from error
    # One address for one day: other spellings of ISO 8601 are no page.
    if wanted.isoformat() != day or not FIRST_YEAR <= wanted.year <= LAST_YEAR:
        raise Http404
    return wanted


def _day(request: StaffRequest, day: date) -> HttpResponse:
    at, look, site = now(), look_of(request.GET, day=day, is_week=False), request.site
    tag = live.tag_now(site, of_day(site, day, now=at), now=at)
    if _is_fresh(request, tag):
        return HttpResponseNotModified()
    return _page(request, look, at, read_day(site, day, kind=look.kind, chosen=look.of, now=at), tag=tag)


def _is_fresh(request: StaffRequest, tag: str) -> bool:
    """Whether the page that asks still shows what is there."""
    return request.headers.get("If-None-Match") == f'"{tag}"'


def _page(
    request: StaffRequest, look: Look, at: datetime, shown: Shown, *, tag: str, of: Resource | None = None
) -> HttpResponse:
    today = at.astimezone(request.site.zone).date()
    context = {
        "look": look,
        "today": today,
        "is_today": today == look.day,
        "monday": week_of(look.day),
        "links": links(look, today=today, columns=shown.columns),
        "read": shown,
        "chosen": next((column for column in shown.columns if column.is_chosen), None),
        "of": of,
        "choices": resources_to_see(request.site) if of else [],
        "tag": tag,
        "marks": marks.marks_for(shown.bookings, user=request.user, now=at),
        "papers": [] if look.is_week else _papers(request, look.day),
        "may_move": may(request.user, Capability.DIARY_BOOK, request.site),
    }
    return render(request, "diary/day.html", context)


def _papers(request: StaffRequest, day: date) -> list[tuple[str, StrOrPromise]]:
    """Address and word of each paper of the day."""
    if not may(request.user, Capability.PATIENTS_READ, request.site):
        return []
    return [(reverse("diary_paper", args=[day.isoformat(), one.code]), one.word) for one in papers.of_day()]
