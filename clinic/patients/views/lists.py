"""The register as a list, searched while somebody types, and one patient's page."""

from urllib.parse import quote

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.patients import hints
from clinic.patients.access import access_patient, access_record
from clinic.patients.actions import note_death, note_move, number_is_right, take_death_back, take_move_back
from clinic.patients.actions.joining import how_joined
from clinic.patients.models import Patient
from clinic.patients.search import find, identity_of, likely_duplicates
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.erasure import Unreadable, reveal

LATEST = 12


@staff(Capability.PATIENTS_READ)
def register(request: StaffRequest) -> HttpResponse:
    asked = request.GET.get("q", "")
    if asked.strip():
        patients = find(asked=asked, user=request.user)
    else:
        patients = list(Patient.objects.visible_to(request.user).order_by("-registered_at", "-pk")[:LATEST])
    template = "patients/_found.html" if request.htmx else "patients/register.html"
    return render(request, template, {"asked": asked, "name_asked": quote(asked[:200]), "patients": patients})


@staff(Capability.PATIENTS_WRITE, methods=("POST",))
def died(request: StaffRequest, pk: int) -> HttpResponse:
    """Noted, or taken back."""
    patient = access_patient(user=request.user, pk=pk, to=Capability.PATIENTS_WRITE)
    if "back" in request.POST:
        left = take_death_back(patient=patient, user=request.user, actor=request.actor, now=now())
        _say_taken_back(request, left)
    else:
        note_death(patient=patient, actor=request.actor, now=now())
        messages.success(request, _("Noted. Nothing is sent any more, and nobody is asked to call."))
    return redirect("patient", pk=pk)


@staff(Capability.PATIENTS_WRITE, methods=("POST",))
def moved(request: StaffRequest, pk: int) -> HttpResponse:
    """Noted, or taken back."""
    patient = access_patient(user=request.user, pk=pk, to=Capability.PATIENTS_WRITE)
    if "back" in request.POST:
        left = take_move_back(patient=patient, user=request.user, actor=request.actor, now=now())
        _say_taken_back(request, left)
    else:
        note_move(patient=patient, actor=request.actor, now=now())
        messages.success(request, _("Noted. No reminder goes out any more. Look through the visits that still stand."))
    return redirect("patient", pk=pk)


def _say_taken_back(request: StaffRequest, left: list[str]) -> None:
    messages.success(request, _("Taken back. Checks, calls, recalls and messages that it had ended are planned anew."))
    for sentence in left:
        messages.warning(request, sentence)


@staff(Capability.PATIENTS_WRITE, methods=("POST",))
def number(request: StaffRequest, pk: int) -> HttpResponse:
    """The mark of a wrong number is taken back; another number lifts it by itself."""
    patient = access_patient(user=request.user, pk=pk, to=Capability.PATIENTS_WRITE)
    number_is_right(patient=patient, actor=request.actor)
    messages.success(request, _("Taken back. This number is called and texted again."))
    return redirect("patient", pk=pk)


@staff(Capability.PATIENTS_READ)
def one(request: StaffRequest, pk: int) -> HttpResponse:
    patient = access_record(user=request.user, pk=pk, to=Capability.PATIENTS_READ)
    note_read(actor=request.actor, what="patient", subject=("patient", pk), patient_id=pk, site_id=patient.site_id)
    if patient.merged_into is not None:
        return _joined(request, patient, patient.merged_into)
    sections = [(section.template, section.context(request, patient)) for section in hints.sections()]
    today = now().astimezone(patient.site.zone).date()
    context = {
        "patient": patient,
        "sections": sections,
        "may_change": may(request.user, Capability.PATIENTS_WRITE, patient.site),
        "hints": hints.birth_hints(birth_on=patient.birth_on, today=today),
        "alike": likely_duplicates(identity=identity_of(patient), site=patient.site, without=pk),
        "aliases": list(patient.aliases.order_by("merged_at", "pk")),
    }
    return render(request, "patients/patient.html", context)


def _joined(request: StaffRequest, alias: Patient, kept: Patient) -> HttpResponse:
    """Whoever comes here by an old address is led on, and told why."""
    entry = how_joined(alias)
    values = reveal(entry) if entry is not None else Unreadable.KEY_MISSING
    context = {
        "alias": alias,
        "kept": kept,
        "by": entry.actor_name if entry is not None else "",
        "reason": "" if isinstance(values, Unreadable) else values["reason"],
        "may_part": may(request.user, Capability.PATIENTS_MERGE, alias.site),
    }
    return render(request, "patients/joined.html", context)
