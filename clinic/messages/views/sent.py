"""Every message to one patient, a page at a time."""

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.messages import saying
from clinic.patients.access import access_patient
from clinic.trail.access import note_read

SHOWN = 50


@staff(Capability.MESSAGES_READ)
def messages_of(request: StaffRequest, pk: int) -> HttpResponse:
    patient = access_patient(user=request.user, pk=pk, to=Capability.MESSAGES_READ)
    note_read(actor=request.actor, what="messages", subject=("patient", pk), patient_id=pk, site_id=patient.site_id)
    page = Paginator(saying.of_patient(patient), SHOWN).get_page(request.GET.get("page"))
    context = {"patient": patient, "page": page, "lines": saying.lines(page)}
    return render(request, "messages/staff/all.html", context)
