"""Registering and changing a patient; likely duplicates and birth hints show while somebody types."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.patients import hints
from clinic.patients.access import access_patient
from clinic.patients.actions import BirthInTheFuture, ChangedMeanwhile, change_patient, register_patient
from clinic.patients.forms import PatientForm
from clinic.patients.models import Patient
from clinic.patients.search import likely_duplicates
from clinic.trail.clock import now


@staff(Capability.PATIENTS_WRITE, methods=("GET", "POST"))
def new(request: StaffRequest) -> HttpResponse:
    form = PatientForm(request.POST or None, site=request.site, initial={"name": request.GET.get("name", "")[:200]})
    if request.method == "POST" and form.is_valid():
        duplicates = likely_duplicates(identity=form.identity(), site=request.site)
        if duplicates and not form.cleaned_data["another_person"]:
            return _page(request, form, status=422, duplicates=duplicates)
        try:
            patient = register_patient(
                site=request.site, details=form.details(), user=request.user, actor=request.actor, now=now()
            )
        except BirthInTheFuture as refusal:
            form.add_error("birth_on", str(refusal))
        else:
            messages.success(request, _("%(name)s is registered.") % {"name": patient.name})
            return redirect("patient", pk=patient.pk)
    return _page(request, form, status=422 if form.is_bound else 200)


@staff(Capability.PATIENTS_WRITE, methods=("GET", "POST"))
def change(request: StaffRequest, pk: int) -> HttpResponse:
    patient = access_patient(user=request.user, pk=pk)
    initial = {"seen_version": patient.version}
    form = PatientForm(request.POST or None, instance=patient, site=patient.site, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            change_patient(
                patient=patient,
                details=form.details(),
                seen_version=form.cleaned_data["seen_version"] or 0,
                user=request.user,
                actor=request.actor,
                now=now(),
            )
        except BirthInTheFuture as refusal:
            form.add_error("birth_on", str(refusal))
        except ChangedMeanwhile as refusal:
            return _stale(request, form, str(refusal), Patient.objects.get(pk=pk))
        else:
            messages.success(request, _("Saved."))
            return redirect("patient", pk=pk)
    return _page(request, form, status=422 if form.is_bound else 200, patient=patient)


@staff(Capability.PATIENTS_WRITE, methods=("POST",), background=True)
def look_alikes(request: StaffRequest) -> HttpResponse:
    """What shows under the form while it is typed: people who may be the same, and what the age means."""
    form = PatientForm(request.POST, site=request.site)
    form.is_valid()
    identity = form.identity()
    today = now().astimezone(request.site.zone).date()
    said = hints.birth_hints(birth_on=identity.birth_on, today=today) if identity.birth_on else []
    duplicates = likely_duplicates(identity=identity, site=request.site)
    return render(request, "patients/_look_alikes.html", {"duplicates": duplicates, "hints": said})


def _page(request: StaffRequest, form: PatientForm, *, status: int, **context: object) -> HttpResponse:
    context = {"duplicates": [], "hints": [], "patient": None, "theirs": None} | context
    return render(request, "patients/form.html", {"form": form, **context}, status=status)


def _stale(request: StaffRequest, form: PatientForm, sentence: str, theirs: Patient) -> HttpResponse:
    """Shows what the other person saved beside what was typed; saving again keeps what was typed."""
    form.add_error(None, sentence)
    changed = [
        (form.fields[name].label, getattr(theirs, name) or "–", form[name].value() or "–")
        for name in form.Meta.fields
        if str(getattr(theirs, name) or "") != str(form.cleaned_data.get(name) or "")
    ]
    form.data = form.data.copy()
    form.data["seen_version"] = str(theirs.version)
    return _page(request, form, status=409, patient=theirs, theirs=changed)
