"""Starting a session: the only way in leads through the gates."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.casebook.actions.sessions import start_session
from whitening.cases.access import access_case


@staff(Capability.SESSION_OPEN, methods=("POST",))
def start(request: StaffRequest, pk: int, visit_pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.SESSION_OPEN)
    visit = case.visits.select_related("booking__site").filter(pk=visit_pk).first()
    if visit is None:
        raise Http404
    try:
        session = start_session(case=case, visit=visit, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("case", pk=pk)
    return redirect("chairside", pk=session.pk)
