"""Lights: the device behind each light of the diary, and its checks. The address names the diary's light."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.access import access_resource
from clinic.diary.models import Resource, ResourceKind
from clinic.trail.clock import now
from whitening.chairside.actions import check_light, save_light
from whitening.chairside.forms import CheckForm, LightForm
from whitening.chairside.models import LightUnit


def _light(request: StaffRequest, pk: int, to: Capability) -> tuple[Resource, LightUnit | None]:
    resource = access_resource(user=request.user, pk=pk, to=to, kind=ResourceKind.LIGHT)
    return resource, LightUnit.objects.filter(resource=resource).select_related("resource__site").first()


@staff(Capability.MATERIALS_MANAGE, methods=("GET", "POST"))
def light(request: StaffRequest, pk: int) -> HttpResponse:
    resource, unit = _light(request, pk, Capability.MATERIALS_MANAGE)
    form = LightForm(request.POST or None, instance=unit)
    if request.method == "POST" and form.is_valid():
        save_light(resource=resource, details=form.details(), user=request.user, actor=request.actor)
        messages.success(request, _("The light is saved."))
        return redirect("materials")
    status = 422 if request.method == "POST" else 200
    return render(request, "chairside/light.html", {"form": form, "resource": resource}, status=status)


@staff(Capability.LIGHT_CHECK, methods=("GET", "POST"))
def check(request: StaffRequest, pk: int) -> HttpResponse:
    resource, unit = _light(request, pk, Capability.LIGHT_CHECK)
    if unit is None:
        raise Http404
    form = CheckForm(request.POST or None, initial={"distance_mm": unit.probe_distance_mm})
    if request.method == "POST" and form.is_valid():
        done = check_light(unit=unit, **form.cleaned_data, user=request.user, actor=request.actor, now=now())
        if done.passed:
            messages.success(request, _("The check passed."))
        else:
            messages.error(request, _("The check did not pass: do not use this light until it does."))
        return redirect("light_check", pk=pk)
    context = {"form": form, "unit": unit, "resource": resource, "checks": unit.checks.order_by("-checked_at")[:10]}
    return render(request, "chairside/light_check.html", context, status=422 if request.method == "POST" else 200)
