"""Two records of one person: looking for the other one, comparing both, joining them, taking them apart again."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may, who_may
from clinic.patients.access import access_patient, access_record
from clinic.patients.actions import ChangedMeanwhile, merge_patients, part_patients
from clinic.patients.actions.joining import JoinedAlready
from clinic.patients.comparing import lines
from clinic.patients.join_forms import JoinForm
from clinic.patients.models import Patient
from clinic.patients.search import find, identity_of, likely_duplicates
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


@staff(Capability.PATIENTS_READ)
def same(request: StaffRequest, pk: int) -> HttpResponse:
    """Whoever finds two records looks here for the other one; each site has its own."""
    patient = access_patient(user=request.user, pk=pk, to=Capability.PATIENTS_READ)
    asked = request.GET.get("q", "")
    if asked.strip():
        found = find(asked=asked, user=request.user)
        others = [one for one in found if one.pk != pk and one.site_id == patient.site_id]
    else:
        alike = likely_duplicates(identity=identity_of(patient), site=patient.site, without=pk)
        others = [one for one, _why in alike]
    template = "patients/_same_found.html" if request.htmx else "patients/same.html"
    return render(request, template, {"patient": patient, "asked": asked, "others": others})


@staff(Capability.PATIENTS_READ)
def compare(request: StaffRequest, pk: int, other_pk: int) -> HttpResponse:
    patient, other = _both(request, pk, other_pk, Capability.PATIENTS_READ)
    for row in (patient, other):
        note_read(
            actor=request.actor, what="patient", subject=("patient", row.pk), patient_id=row.pk, site_id=row.site_id
        )
    return _page(request, patient, other, JoinForm(one=patient, other=other))


@staff(Capability.PATIENTS_MERGE, methods=("POST",))
def join(request: StaffRequest, pk: int, other_pk: int) -> HttpResponse:
    kept_already = _kept_already(request, pk, other_pk)
    if kept_already is not None:
        messages.error(request, str(JoinedAlready()))
        return redirect("patient", pk=kept_already.pk)
    patient, other = _both(request, pk, other_pk, Capability.PATIENTS_MERGE)
    form = JoinForm(request.POST, one=patient, other=other)
    if not form.is_valid():
        return _page(request, patient, other, form, status=422)
    try:
        kept = merge_patients(
            kept=form.kept,
            other=form.other,
            choice=form.choice(),
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        if isinstance(refusal, ChangedMeanwhile):
            form.show_newest()
        form.add_error(None, str(refusal))
        return _page(request, patient, other, form, status=409)
    messages.success(request, _("Joined. Visits, cases and messages of both stand here now."))
    return redirect("patient", pk=kept.pk)


@staff(Capability.PATIENTS_MERGE, methods=("POST",))
def part(request: StaffRequest, pk: int) -> HttpResponse:
    """These are two people after all."""
    alias = access_record(user=request.user, pk=pk, to=Capability.PATIENTS_MERGE)
    try:
        part_patients(alias=alias, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(
            request, _("Two records again. What was ended when they were joined stays ended: look at both.")
        )
    return redirect("patient", pk=pk)


def _kept_already(request: StaffRequest, *keys: int) -> Patient | None:
    """Pressed twice, or by two people: the record that is kept since."""
    rows = [access_record(user=request.user, pk=pk, to=Capability.PATIENTS_MERGE) for pk in keys]
    return next((row.merged_into for row in rows if row.merged_into is not None), None)


def _both(request: StaffRequest, pk: int, other_pk: int, to: Capability) -> tuple[Patient, Patient]:
    patient = access_patient(user=request.user, pk=pk, to=to)
    other = access_patient(user=request.user, pk=other_pk, to=to)
    if patient.pk == other.pk or patient.site_id != other.site_id:
        # Nothing leads here; the action refuses it as well.
        raise Http404
    return patient, other


def _page(
    request: StaffRequest, patient: Patient, other: Patient, form: JoinForm, *, status: int = 200
) -> HttpResponse:
    may_join = may(request.user, Capability.PATIENTS_MERGE, patient.site)
    context = {
        "patient": patient,
        "other": other,
        "lines": lines(patient, other, now=now()),
        "form": form,
        "may_join": may_join,
        "who_may": [] if may_join else who_may(Capability.PATIENTS_MERGE, patient.site),
    }
    return render(request, "patients/compare.html", context, status=status)
