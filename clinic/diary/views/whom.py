"""A free quarter of the diary was picked: for whom? Then its free times, in that room or with that person."""

from django.db.models import prefetch_related_objects
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import render

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.forms import PlaceForm
from clinic.diary.models import ResourceKind
from clinic.patients.search import find
from clinic.trail.clock import now

PLACE = ("to", "start_at", "day", "time", "visit_type")


@staff(Capability.DIARY_BOOK)
def page(request: StaffRequest) -> HttpResponse:
    form = PlaceForm(request.GET, site=request.site)
    if not form.is_valid():
        raise Http404
    asked, resource = request.GET.get("q", ""), form.cleaned_data["to"]
    start = form.cleaned_data["start_at"].astimezone(request.site.zone)
    wish = QueryDict(mutable=True)
    wish["from_on"], wish["not_before"] = start.date().isoformat(), f"{start:%H:%M}"
    # Somebody of another site is seen there, where neither this room nor this visit is known.
    elsewhere = wish.urlencode()
    wish["room" if resource.kind == ResourceKind.ROOM else "person"] = str(resource.pk)
    if request.GET.get("visit_type", "").isdecimal():
        wish["visit_type"] = request.GET["visit_type"]
    patients = find(asked=asked, user=request.user) if asked.strip() else []
    prefetch_related_objects(patients, "site")
    context = {
        "asked": asked,
        "patients": patients,
        "place": {name: request.GET[name] for name in PLACE if name in request.GET},
        "resource": resource,
        "start": start,
        "wish": wish.urlencode(),
        "elsewhere": elsewhere,
        "is_over": start <= now(),
    }
    return render(request, "diary/_whom_found.html" if request.htmx else "diary/whom.html", context)
