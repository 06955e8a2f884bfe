"""The diary: one day, rooms across and quarter hours down."""

from datetime import date, timedelta

from django.http import Http404, HttpResponse, HttpResponseNotModified
from django.shortcuts import render

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import live, marks
from clinic.diary.reading import day_bounds, read_day
from clinic.trail.clock import now

# Days that a diary can hold; beyond them the arithmetic of zones ends.
FIRST_YEAR, LAST_YEAR = 1970, 2200


@staff(Capability.DIARY_READ)
def today(request: StaffRequest) -> HttpResponse:
    return _day(request, now().astimezone(request.site.zone).date())


@staff(Capability.DIARY_READ)
def day(request: StaffRequest, day: str) -> HttpResponse:
    try:
        wanted = date.fromisoformat(day)
    except ValueError as error:
        raise Http404 from error
    # One address for one day: other spellings of ISO 8601 are no page.
    if wanted.isoformat() != day or not FIRST_YEAR <= wanted.year <= LAST_YEAR:
        raise Http404
    return _day(request, wanted)


def _day(request: StaffRequest, day: date) -> HttpResponse:
    at = now()
    site = request.site
    tag = live.tag_of(site, *day_bounds(site, day), now=at)
    if request.headers.get("If-None-Match") == f'"{tag}"':
        return HttpResponseNotModified()
    read = read_day(site, day, now=at)
    context = {
        "day": day,
        "is_today": day == at.astimezone(site.zone).date(),
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "read": read,
        "tag": tag,
        "marks": marks.marks_for(read.bookings, user=request.user, now=at),
    }
    return render(request, "diary/day.html", context)
