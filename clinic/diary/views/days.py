"""The diary: one day, rooms across and quarter hours down."""

from datetime import date, timedelta

from django.http import Http404, HttpResponse
from django.shortcuts import render

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import marks
from clinic.diary.reading import bookings_on, day_rows, rooms_of
from clinic.trail.clock import now


@staff(Capability.DIARY_READ)
def today(request: StaffRequest) -> HttpResponse:
    return _day(request, now().astimezone(request.site.zone).date())


@staff(Capability.DIARY_READ)
def day(request: StaffRequest, day: str) -> HttpResponse:
    try:
        return _day(request, date.fromisoformat(day))
    except ValueError as error:
        raise Http404 from error


def _day(request: StaffRequest, day: date) -> HttpResponse:
    at = now()
    site = request.site
    bookings = bookings_on(site, day)
    rooms = rooms_of(site)
    context = {
        "day": day,
        "is_today": day == at.astimezone(site.zone).date(),
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "rooms": rooms,
        "bookings": bookings,
        "rows": day_rows(site, day, rooms=rooms, bookings=bookings, now=at),
        "marks": marks.marks_for(bookings, user=request.user, now=at),
    }
    return render(request, "diary/day.html", context)
