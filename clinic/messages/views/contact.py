"""The desk's doors to how a patient may be written to, always on the patient's word."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.messages.actions.bouncing import NotTheAddress, mail_arrives, mail_came_back
from clinic.messages.actions.choosing import ChosenMeanwhile, NoWayLeft, allow_texts, choose_ways, end_texts, state_of
from clinic.messages.staff_forms import ContactForm, lines
from clinic.patients.access import access_patient
from clinic.patients.contact import contact
from clinic.patients.models import Channel, Patient
from clinic.trail.clock import now


@staff(Capability.PATIENTS_WRITE, methods=("GET", "POST"))
def choices(request: StaffRequest, pk: int) -> HttpResponse:
    patient = access_patient(user=request.user, pk=pk, to=Capability.PATIENTS_WRITE)
    data = request.POST if request.method == "POST" else None
    form = ContactForm(data, patient=patient, chosen=contact(patient))
    if data is None or not form.is_valid():
        return _page(request, patient, form, status=422 if form.errors else 200)
    try:
        choose_ways(
            patient=patient,
            channel=Channel(form.cleaned_data["channel"]),
            ways=form.ways(),
            wordings=form.wordings(),
            seen=form.cleaned_data["seen"],
            actor=request.actor,
            now=now(),
        )
    except NoWayLeft as refusal:
        form.add_error("channel", str(refusal))
        return _page(request, patient, form, status=422)
    except ChosenMeanwhile as refusal:
        return _stale(request, patient.pk, form, str(refusal))
    messages.success(request, _("Saved, with your name as proof. What is not wanted any more does not go out."))
    return redirect("patient", pk=pk)


@staff(Capability.PATIENTS_WRITE, methods=("POST",))
def texts(request: StaffRequest, pk: int) -> HttpResponse:
    """Ended, or allowed again."""
    patient = access_patient(user=request.user, pk=pk, to=Capability.PATIENTS_WRITE)
    if "back" in request.POST:
        wording = _("Texts are allowed again (said to the practice)")
        allow_texts(patient=patient, wording=wording, actor=request.actor, now=now())
        messages.success(request, _("Texts may go out again, about whatever this patient is written to."))
    else:
        wording = _("No more texts (said to the practice)")
        end_texts(patient=patient, wording=wording, actor=request.actor, now=now())
        messages.success(request, _("No text goes out any more. E-mail goes on where there is an address."))
    return redirect("patient", pk=pk)


@staff(Capability.PATIENTS_WRITE, methods=("POST",))
def mail(request: StaffRequest, pk: int) -> HttpResponse:
    """It came back, or it arrives after all."""
    patient = access_patient(user=request.user, pk=pk, to=Capability.PATIENTS_WRITE)
    if "back" in request.POST:
        mail_arrives(patient=patient, actor=request.actor, now=now())
        messages.success(request, _("Taken back. Mail goes to this address again."))
        return redirect("patient", pk=pk)
    try:
        found = mail_came_back(patient=patient, address=request.POST.get("address", ""), actor=request.actor, now=now())
    except NotTheAddress as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _marked(found.calls))
    return redirect("patient", pk=pk)


def _marked(calls: int) -> str:
    noted = _("Noted. No mail goes to this address until it is corrected.")
    if not calls:
        return noted
    return (
        noted
        + " "
        + ngettext(
            "%(calls)d message is now a call to make; see Follow-ups.",
            "%(calls)d messages are now calls to make; see Follow-ups.",
            calls,
        )
        % {"calls": calls}
    )


def _page(request: StaffRequest, patient: Patient, form: ContactForm, *, status: int) -> HttpResponse:
    context = {"patient": patient, "form": form, "lines": lines(contact(patient))}
    return render(request, "messages/staff/contact.html", context, status=status)


def _stale(request: StaffRequest, pk: int, form: ContactForm, sentence: str) -> HttpResponse:
    """What holds now stands beside what was typed; saving again keeps what was typed."""
    patient = Patient.objects.select_related("site").get(pk=pk)
    form.add_error(None, sentence)
    typed = request.POST.copy()
    typed["seen"] = state_of(patient, contact(patient))
    form.data = typed
    return _page(request, patient, form, status=409)
