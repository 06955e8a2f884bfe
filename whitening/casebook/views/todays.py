"""Today: the first page after signing in. It follows what other desks do."""

from django.http import HttpResponse, HttpResponseNotModified
from django.shortcuts import render

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from whitening.casebook.today import today as read_today
from whitening.casebook.today_live import live_tag


@staff(Capability.TODAY)
def today(request: StaffRequest) -> HttpResponse:
    at = now()
    shown = request.headers.get("If-None-Match")
    if shown is not None and shown == f'"{live_tag(request.site, now=at)}"':
        return HttpResponseNotModified()
    done = request.GET.get("done", "")
    page = read_today(
        site=request.site, user=request.user, now=at, done=int(done) if done.isdecimal() and len(done) < 19 else None
    )
    return render(request, "casebook_pages/today.html", {"page": page, "now": at})
