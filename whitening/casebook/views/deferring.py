"""A clinician puts the case off until a day, or lifts that; both from the case's page."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.casebook.forms import LiftForm, PutOffForm
from whitening.casebook.views.cases import case_response
from whitening.cases import actions
from whitening.cases.access import access_case


@staff(Capability.EXAMINE_AND_DECIDE, methods=("POST",))
def put_off(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.EXAMINE_AND_DECIDE)
    form = PutOffForm(request.POST)
    if not form.is_valid():
        return case_response(request, case, put_off_form=form, status=422)
    try:
        actions.put_off(case=case, user=request.user, actor=request.actor, now=now(), **form.cleaned_data)
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return case_response(request, case, put_off_form=form, status=409)
    messages.success(request, _("The case is put off. Times that are booked before that day stand on Today."))
    return redirect("case", pk=pk)


@staff(Capability.EXAMINE_AND_DECIDE, methods=("POST",))
def lift(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.EXAMINE_AND_DECIDE)
    form = LiftForm(request.POST)
    version = form.cleaned_data["version"] if form.is_valid() else 0
    try:
        actions.lift(case=case, version=version, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("The case is no longer put off."))
    return redirect("case", pk=pk)
