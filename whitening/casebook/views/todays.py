"""Today: the first page after signing in."""

from django.http import HttpResponse
from django.shortcuts import render

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from whitening.casebook.today import today as read_today


@staff(Capability.TODAY)
def today(request: StaffRequest) -> HttpResponse:
    at = now()
    page = read_today(site=request.site, user=request.user, now=at)
    return render(request, "casebook_pages/today.html", {"page": page, "now": at})
