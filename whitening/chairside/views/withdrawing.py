"""The patient says no, in the chair: one tap beside it, at any moment of the session."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, require
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.chairside.access import access_session
from whitening.chairside.models import Session
from whitening.chairside.views.chair import page_of, while_open
from whitening.consent.actions import AlreadyWithdrawn, withdraw

LONGEST_NUMBER = 18


@staff(Capability.CHAIRSIDE_RECORD, methods=("POST",), while_locked=while_open)
def withdrawn(request: StaffRequest, pk: int) -> HttpResponse:
    """A tap like any other: sent twice, or after another screen did it, it changes nothing more."""
    session = access_session(user=request.user, pk=pk, to=Capability.CHAIRSIDE_RECORD)
    require(request.user, Capability.CONSENT_WITHDRAW, session.site)
    try:
        withdraw(case=session.case, words="", actor=request.actor, now=now(), signature_id=_signature(request))
    except AlreadyWithdrawn:
        pass
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return page_of(request, session, status=409)
    else:
        messages.warning(request, _("Withdrawn. Pressed by mistake? Then it is talked through and signed anew."))
    if request.headers.get("X-Tap") == "1":
        # Read again: what was known of the case before the withdrawal is no longer true.
        return page_of(request, Session.objects.select_related("site", "case__site", "case__patient").get(pk=pk))
    return redirect("chairside", pk=pk)


def _signature(request: StaffRequest) -> int | None:
    """The one that the page was about: a tap kept on a screen without a network says nothing of a later one."""
    given = request.POST.get("a", "")
    return int(given) if given.isascii() and given.isdigit() and len(given) <= LONGEST_NUMBER else None
