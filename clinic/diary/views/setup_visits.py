"""Set-up of the kinds of visit: how long each takes, and what patients may pick alone."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.actions import setting_up, visit_types
from clinic.diary.models import VisitType
from clinic.diary.visit_forms import MinutesForm, PatientsAloneForm


@staff(Capability.SETUP, methods=("GET", "POST"))
def visits(request: StaffRequest) -> HttpResponse:
    """Lists the visits; the button adds those that every practice starts with."""
    if request.method == "POST":
        made = setting_up.add_standard_visits(site=request.site, actor=request.actor)
        messages.success(request, _("Added %(count)d visits.") % {"count": len(made)})
        return redirect("setup_visits")
    rows = VisitType.objects.filter(site=request.site).prefetch_related("segments")
    return render(request, "diary/setup/visits.html", {"visits": rows})


@staff(Capability.SETUP, methods=("GET", "POST"))
def visit(request: StaffRequest, pk: int) -> HttpResponse:
    visit_type = _visit_type(request, pk)
    form = MinutesForm(request.POST if request.method == "POST" else None, visit_type=visit_type)
    if form.is_valid():
        setting_up.set_minutes(visit_type=visit_type, minutes=form.minutes(), user=request.user, actor=request.actor)
        messages.success(request, _("Saved. Visits that are booked already keep their length."))
        return redirect("setup_visits")
    return _page(request, visit_type, form, PatientsAloneForm.of(visit_type))


@staff(Capability.SETUP, methods=("POST",))
def patients_alone(request: StaffRequest, pk: int) -> HttpResponse:
    """Whether a patient may pick a time of this visit alone, and between when and when."""
    visit_type = _visit_type(request, pk)
    form = PatientsAloneForm(request.POST)
    if not form.is_valid():
        return _page(request, visit_type, MinutesForm(visit_type=visit_type), form)
    visit_types.let_patients_book(visit_type=visit_type, rules=form.rules(), user=request.user, actor=request.actor)
    messages.success(request, _("Saved. What patients have booked already stays as it is."))
    return redirect("setup_visit", pk=pk)


def _visit_type(request: StaffRequest, pk: int) -> VisitType:
    visit_type = VisitType.objects.visible_to(request.user).filter(pk=pk).select_related("site").first()
    if visit_type is None:
        raise Http404
    return visit_type


def _page(request: StaffRequest, visit_type: VisitType, form: MinutesForm, alone: PatientsAloneForm) -> HttpResponse:
    context = {"form": form, "alone": alone, "visit": visit_type}
    status = 422 if form.is_bound or alone.is_bound else 200
    return render(request, "diary/setup/visit.html", context, status=status)
