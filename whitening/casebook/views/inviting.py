"""Staff send the patient of a case the link to pick the time of a visit alone."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.casebook.actions import invite_to_pick
from whitening.cases.access import access_case
from whitening.cases.models import VisitPurpose


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def invite(request: StaffRequest, pk: int, purpose: str) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.MESSAGES_SEND)
    if purpose not in VisitPurpose.values:
        raise Http404
    try:
        invite_to_pick(case=case, purpose=VisitPurpose(purpose), user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("The link to pick a time is on its way. It works for 14 days."))
    return redirect("case", pk=pk)
