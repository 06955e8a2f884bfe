"""Registering and changing a patient; likely duplicates and birth hints show while somebody types."""

from copy import copy

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.models import Site
from clinic.accounts.rights import Capability
from clinic.patients import hints
from clinic.patients.access import access_patient
from clinic.patients.actions import BirthInTheFuture, ChangedMeanwhile, change_patient, details_of, register_patient
from clinic.patients.forms import PatientForm
from clinic.patients.models import Patient
from clinic.patients.person import JoinedMeanwhile
from clinic.patients.search import likely_duplicates
from clinic.patients.showing import differences
from clinic.trail.clock import now


@staff(Capability.PATIENTS_WRITE, methods=("GET", "POST"))
def new(request: StaffRequest) -> HttpResponse:
    typed = {"name": request.GET.get("name", "").replace("\x00", "")[:200]}
    form = _form(request, request.site, initial=typed)
    if form.is_valid() and not form.cleaned_data["another_person"] and _duplicates(form):
        form.add_error("another_person", _("They may be in the register already. Open that patient, or tick this."))
    if form.is_valid():
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
    patient = access_patient(user=request.user, pk=pk, to=Capability.PATIENTS_WRITE)
    # A copy: a model form writes what was typed into its instance, refused or not.
    form = _form(request, patient.site, instance=copy(patient), initial={"seen_version": patient.version})
    if form.is_valid():
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
        except JoinedMeanwhile as refusal:
            messages.error(request, str(refusal))
            return redirect("patient", pk=pk)
        except ChangedMeanwhile as refusal:
            return _stale(request, form, str(refusal), Patient.objects.select_related("site").get(pk=pk))
        else:
            messages.success(request, _("Saved."))
            return redirect("patient", pk=pk)
    return _page(request, form, status=422 if form.is_bound else 200, patient=patient)


@staff(Capability.PATIENTS_WRITE, methods=("POST",), background=True)
def look_alikes(request: StaffRequest) -> HttpResponse:
    """What shows under the form while it is typed: people who may be the same, what the age means, the language."""
    form = _form(request, request.site)
    known = request.GET.get("known", "")
    context = _said(form, without=int(known) if known.isdecimal() and len(known) < 10 else None)
    return render(request, "patients/_typed_so_far.html", context)


def _form(request: StaffRequest, site: Site, **more: object) -> PatientForm:
    today = now().astimezone(site.zone).date()
    return PatientForm(request.POST if request.method == "POST" else None, site=site, today=today, **more)


def _said(form: PatientForm, *, without: int | None) -> dict[str, object]:
    """What there is to say about as much as has been typed; a page that is only opened has no duplicates."""
    if not form.is_bound:
        return {"duplicates": [], "hints": [], "gap": form.language_gap()}
    form.is_valid()
    birth_on = form.identity().birth_on
    today = now().astimezone(form.site.zone).date()
    said = hints.birth_hints(birth_on=birth_on, today=today) if birth_on else []
    return {"duplicates": _duplicates(form, without=without), "hints": said, "gap": form.language_gap()}


def _duplicates(form: PatientForm, *, without: int | None = None) -> list[tuple[Patient, str]]:
    return [
        (row, str(why)) for row, why in likely_duplicates(identity=form.identity(), site=form.site, without=without)
    ]


def _page(
    request: StaffRequest, form: PatientForm, *, status: int, patient: Patient | None = None, theirs: object = None
) -> HttpResponse:
    said = _said(form, without=patient.pk if patient else None)
    context = {"form": form, "patient": patient, "theirs": theirs, **said}
    return render(request, "patients/form.html", context, status=status)


def _stale(request: StaffRequest, form: PatientForm, sentence: str, theirs: Patient) -> HttpResponse:
    """Shows what the other person saved beside what was typed; saving again keeps what was typed."""
    form.add_error(None, sentence)
    changed = differences(saved=details_of(theirs), typed=form.details(), form=form)
    typed = request.POST.copy()
    typed["seen_version"] = str(theirs.version)
    form.data = typed
    return _page(request, form, status=409, patient=theirs, theirs=changed)
