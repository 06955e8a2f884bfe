"""Closures in Set-up: leave, training, a room out of use, the whole site closed, public holidays."""

from collections.abc import Sequence

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.models import Site
from clinic.accounts.public_holidays import countries, regions
from clinic.accounts.rights import Capability
from clinic.diary.access import access_closure
from clinic.diary.actions import closing
from clinic.diary.holidays_ahead import holidays_ahead
from clinic.diary.models import Closure, ClosureKind, Resource, ResourceKind
from clinic.diary.outside import Outside
from clinic.diary.refusals import AlreadyOver, VisitsOutside
from clinic.diary.setup_forms import ClosureForm, HolidaysForm
from clinic.diary.views.preview import agreed_to, status_of
from clinic.trail.clock import now


@staff(Capability.SETUP, methods=("GET", "POST"))
def closures(request: StaffRequest) -> HttpResponse:
    form = ClosureForm(request.POST if request.method == "POST" else None, site=request.site, initial=_initial(request))
    visits: Sequence[Outside] = ()
    if form.is_valid():
        visits = _close(request, form, [form.closure()])
        if not visits and not form.errors:
            messages.success(request, _("Closed. Nothing is offered in that time any more."))
            return redirect("setup_closures")
    rows = Closure.objects.coming(now()).filter(site=request.site).select_related("resource", "site")
    context = {"form": form, "visits": visits, "closures": rows}
    return render(request, "diary/setup/closures.html", context, status=status_of(form, visits))


@staff(Capability.SETUP, methods=("GET", "POST"))
def public_holidays(request: StaffRequest) -> HttpResponse:
    """Those of the coming year, for somebody to tick: nothing is closed by itself."""
    site, at = request.site, now()
    offered, closed = holidays_ahead(site, now=at)
    form = HolidaysForm(request.POST if request.method == "POST" else None, site=site, offered=offered)
    visits: Sequence[Outside] = ()
    if form.is_valid():
        visits = _close(request, form, form.closures())
        if not visits and not form.errors:
            messages.success(request, _("Closed on %(count)d days.") % {"count": len(form.cleaned_data["days"])})
            return redirect("setup_holidays")
    context = {"form": form, "visits": visits, "offered": offered, "closed": closed, "site": site} | _place(site)
    return render(request, "diary/setup/holidays.html", context, status=status_of(form, visits))


def _place(site: Site) -> dict[str, object]:
    names = dict(regions(site.country))
    return {
        "country": dict(countries()).get(site.country, site.country),
        "region": names.get(site.region, ""),
        "is_region_open": bool(names) and site.region not in names,
    }


def _close(request: StaffRequest, form: forms.Form, closures: Sequence[Closure]) -> Sequence[Outside]:
    """The visits that stand in the way; none when it is closed."""
    try:
        closing.close(
            site=request.site,
            closures=closures,
            user=request.user,
            actor=request.actor,
            now=now(),
            agreed=agreed_to(request),
        )
    except VisitsOutside as refusal:
        return refusal.visits
    except AlreadyOver as refusal:
        form.add_error("last_on" if "last_on" in form.fields else None, str(refusal))
    return ()


def _initial(request: StaffRequest) -> dict[str, object]:
    """From the page of a person, a room or a light: whom it is about, and what it most likely is."""
    wanted = request.GET.get("resource", "")
    found = Resource.objects.bookable().filter(site=request.site, pk=wanted).first() if wanted.isdecimal() else None
    if found is None:
        return {}
    kind = ClosureKind.LEAVE if found.kind == ResourceKind.PERSON else ClosureKind.OUT_OF_USE
    return {"resource": found.pk, "kind": kind}


@staff(Capability.SETUP, methods=("POST",))
def take_back(request: StaffRequest, pk: int) -> HttpResponse:
    closure = access_closure(user=request.user, pk=pk, to=Capability.SETUP)
    try:
        closing.take_back(closure=closure, user=request.user, actor=request.actor, now=now())
    except AlreadyOver as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("Taken back. That time is offered again."))
    return redirect("setup_closures")
