"""Set-up of the diary: rooms, people and lights, their hours, and which visits a person does."""

from collections.abc import Sequence
from datetime import date, time
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability
from clinic.diary.access import access_resource
from clinic.diary.actions import setting_up
from clinic.diary.models import LightKind, Resource, ResourceKind, WorkingPattern
from clinic.diary.outside import Outside
from clinic.diary.refusals import VisitsOutside
from clinic.diary.setup_forms import PatternForm, VisitsOfPersonForm
from clinic.diary.views.preview import agreed_to, status_of
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

_NO_VISITS: Sequence[Outside] = ()


class ResourceForm(forms.Form):
    kind = forms.ChoiceField(label=gettext_lazy("What is it"), choices=ResourceKind.choices, widget=forms.RadioSelect)
    name = forms.CharField(label=gettext_lazy("Name"), max_length=120, required=False)
    person = forms.ModelChoiceField(User.objects.none(), label=gettext_lazy("Person"), required=False)
    light_kind = forms.ChoiceField(
        label=gettext_lazy("Kind of light"), required=False, choices=[("", "–"), *LightKind.choices[1:]]
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = User.objects.of_site(site).exclude(resources__site=site)
        self.fields["person"].queryset = people  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        kind = cleaned.get("kind")
        if kind == ResourceKind.PERSON and not cleaned.get("person"):
            self.add_error("person", _("Pick the person."))
        if kind != ResourceKind.PERSON and not cleaned.get("name"):
            self.add_error("name", _("Give it a name."))
        if kind == ResourceKind.LIGHT and not cleaned.get("light_kind"):
            self.add_error("light_kind", _("Say which kind of light it is."))
        return cleaned

    def values(self) -> dict[str, Any]:
        """What the action takes; fields that do not belong to the kind are dropped."""
        data = self.cleaned_data
        person = data["person"] if data["kind"] == ResourceKind.PERSON else None
        return {
            "kind": ResourceKind(data["kind"]),
            "name": person.name if person else data["name"],
            "person": person,
            "light_kind": data["light_kind"] if data["kind"] == ResourceKind.LIGHT else "",
        }


@staff(Capability.SETUP, methods=("GET", "POST"))
def resources(request: StaffRequest) -> HttpResponse:
    form = ResourceForm(request.POST if request.method == "POST" else None, site=request.site)
    if form.is_valid():
        try:
            setting_up.add_resource(site=request.site, user=request.user, actor=request.actor, **form.values())
        except Refusal as refusal:
            form.add_error("name", str(refusal))
        else:
            messages.success(request, _("Added. Now set its hours."))
            return redirect("setup_resources")
    rows = Resource.objects.filter(site=request.site).prefetch_related("patterns")
    status = 422 if form.is_bound else 200
    return render(request, "diary/setup/resources.html", {"form": form, "resources": rows}, status=status)


@staff(Capability.SETUP, methods=("GET", "POST"))
def hours(request: StaffRequest, pk: int) -> HttpResponse:
    resource = access_resource(user=request.user, pk=pk, to=Capability.SETUP)
    today = now().astimezone(resource.site.zone).date()
    initial = {
        "from_on": today,
        "weekdays": [0, 1, 2, 3, 4],
        "from_time": time(9),
        "to_time": time(17),
        "every_weeks": 1,
    }
    form, visits = PatternForm(request.POST if request.method == "POST" else None, initial=initial), _NO_VISITS
    if form.is_valid():
        visits = _save_hours(request, resource, form)
        if not visits:
            messages.success(request, _("The hours are saved."))
            return redirect("setup_hours", pk=pk)
    context = {
        "form": form,
        "resource": resource,
        "visits": visits,
        "patterns": _patterns(resource, today),
        "closures": resource.closures.coming(now()).select_related("site"),
        "does_not_do": resource.without_visits.all(),
    }
    return render(request, "diary/setup/hours.html", context, status=status_of(form, visits))


def _save_hours(request: StaffRequest, resource: Resource, form: PatternForm) -> Sequence[Outside]:
    """The visits that stand in the way; none when it is saved."""
    try:
        setting_up.change_hours(
            resource=resource,
            change=form.change(),
            user=request.user,
            actor=request.actor,
            now=now(),
            agreed=agreed_to(request),
        )
    except VisitsOutside as refusal:
        return refusal.visits
    return _NO_VISITS


def _patterns(resource: Resource, today: date) -> list[tuple[WorkingPattern, date | None]]:
    """Those that still hold; beside one of every other week its next day, for nobody knows which week it is."""
    rows = resource.patterns.exclude(until_on__lte=today).order_by("weekday", "from_on", "from_time")
    return [(row, row.shape.next_on(today) if row.every_weeks > 1 else None) for row in rows]


@staff(Capability.SETUP, methods=("GET", "POST"))
def person_visits(request: StaffRequest, pk: int) -> HttpResponse:
    """Which kinds of visit a person does."""
    resource = access_resource(user=request.user, pk=pk, to=Capability.SETUP, kind=ResourceKind.PERSON)
    form = VisitsOfPersonForm(request.POST if request.method == "POST" else None, resource=resource)
    hit: Sequence[Outside] = ()
    if form.is_valid():
        hit = _save_visits(request, resource, form)
        if not hit:
            messages.success(
                request, _("Saved. From now on only these are offered with %(name)s.") % {"name": resource}
            )
            return redirect("setup_hours", pk=pk)
    context = {"form": form, "resource": resource, "visits": hit}
    return render(request, "diary/setup/person_visits.html", context, status=status_of(form, hit))


def _save_visits(request: StaffRequest, resource: Resource, form: VisitsOfPersonForm) -> Sequence[Outside]:
    """The visits that stand in the way; none when it is saved."""
    try:
        setting_up.set_visits(
            resource=resource,
            visit_types=form.visit_type_ids(),
            user=request.user,
            actor=request.actor,
            now=now(),
            agreed=agreed_to(request),
        )
    except VisitsOutside as refusal:
        return refusal.visits
    return ()
