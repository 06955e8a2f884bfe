"""The day's re-ask: every item of the real list shown, a reply to each, the asker named."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.screening.actions import ask_again
from whitening.screening.reading import answers_of
from whitening.screening.reask import reask_items


@staff(Capability.REASK, methods=("GET", "POST"))
def reask(request: StaffRequest, pk: int) -> HttpResponse:
    """ "All as before" answers every item at once; the page has shown each of them when it is pressed."""
    case = access_case(user=request.user, pk=pk)
    answers = answers_of(case)
    items = reask_items(answers) if answers else ()
    error, status = "", 200
    if request.method == "POST":
        as_before = "as_before" in request.POST
        replies = {item.id: item.usual if as_before else request.POST.get(item.id, "") for item in items}
        given = {name: reply for name, reply in replies.items() if reply}
        try:
            _row, result = ask_again(
                case=case,
                shown=request.POST.getlist("shown"),
                replies=given,
                user=request.user,
                actor=request.actor,
                now=now(),
            )
        except Refusal as refusal:
            error, status = str(refusal), 422
        else:
            _tell(request, changed=bool(result.changed))
            return redirect("case", pk=pk)
    rows = [(item, request.POST.get(item.id, "")) for item in items]
    return render(request, "screening/reask.html", {"case": case, "rows": rows, "error": error}, status=status)


def _tell(request: StaffRequest, *, changed: bool) -> None:
    if changed:
        messages.warning(request, _("Something has changed. A clinician looks at the findings before it goes on."))
    else:
        messages.success(request, _("All as before, asked by %(name)s.") % {"name": request.user.name})
