"""Starting a session: the only way in leads through the gates."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.casebook.actions.sessions import start_session
from whitening.cases.access import access_case
from whitening.chairside.actions import confirm_identity


@staff(Capability.SESSION_OPEN, methods=("POST",))
def start(request: StaffRequest, pk: int, visit_pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk)
    visit = case.visits.select_related("booking__site").filter(pk=visit_pk).first()
    if visit is None:
        raise Http404
    try:
        session = start_session(case=case, visit=visit, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("case", pk=pk)
    return redirect("chairside", pk=session.pk)


@staff(Capability.REASK, methods=("POST",))
def identity(request: StaffRequest, pk: int) -> HttpResponse:
    """Name and date of birth were asked and match what stands on the page."""
    case = access_case(user=request.user, pk=pk)
    confirm_identity(case=case, user=request.user, actor=request.actor, now=now())
    messages.success(request, _("Noted: name and date of birth match."))
    return redirect("case", pk=pk)
