"""Staff send a patient the link to pick a time alone, and take it back."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import actions
from clinic.diary.access import access_invitation
from clinic.diary.forms import InviteForm
from clinic.patients.access import access_patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


@staff(Capability.DIARY_BOOK, methods=("POST",))
def invite(request: StaffRequest, patient_pk: int) -> HttpResponse:
    patient = access_patient(user=request.user, pk=patient_pk, to=Capability.DIARY_BOOK)
    form = InviteForm(request.POST, site=patient.site)
    if not form.is_valid():
        messages.error(request, _("Pick the visit, then send the link."))
        return redirect("find_time", patient_pk=patient_pk)
    try:
        held = actions.invite(patient=patient, user=request.user, actor=request.actor, now=now(), **form.cleaned_data)
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        said = _("The link to pick a time for “%(visit)s” is on its way.") % {"visit": held.visit_type.name}
        messages.success(request, said)
    return redirect("find_time", patient_pk=patient_pk)


@staff(Capability.DIARY_BOOK, methods=("POST",))
def take_back(request: StaffRequest, pk: int) -> HttpResponse:
    invitation = access_invitation(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    try:
        actions.take_invitation_back(invitation=invitation, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("Taken back. The link opens nothing any more."))
    return redirect("find_time", patient_pk=invitation.patient_id)
