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
from whitening.cases.models import Case
from whitening.screening import running
from whitening.screening.actions import ask_again
from whitening.screening.models import Reask
from whitening.screening.reading import answers_of, newest_reask, questions_to_ask, waiting_in
from whitening.screening.reask import GO_AHEAD, ReaskItem, reask_items


@staff(Capability.REASK, methods=("GET", "POST"))
def reask(request: StaffRequest, pk: int) -> HttpResponse:
    """ "All as before" answers every item at once, when the request says of each that it was shown."""
    case = access_case(user=request.user, pk=pk, to=Capability.REASK)
    answers = answers_of(case)
    items = reask_items(answers) if answers else ()
    error, status = "", 200
    if request.method == "POST":
        try:
            row, _result = ask_again(
                case=case,
                shown=request.POST.getlist("shown"),
                replies=_replies(request, items),
                user=request.user,
                actor=request.actor,
                now=now(),
            )
        except Refusal as refusal:
            error, status = str(refusal), 422
        else:
            if _declined(row):
                # Back to this page: it offers the withdrawal, which is the patient's own word.
                return redirect("reask", pk=pk)
            _tell(request, changed=bool(row.changed))
            return _on(request, case)
    last, today = newest_reask(case), now().astimezone(case.site.zone).date()
    context = {
        "case": case,
        "rows": [(item, request.POST.get(item.id, ""), item.id in request.POST.getlist("shown")) for item in items],
        "error": error,
        "back": running.way_back(case=case, user=request.user),
        "declined": last if last and last.asked_on == today and _declined(last) else None,
    }
    return render(request, "screening/reask.html", context, status=status)


def _on(request: StaffRequest, case: Case) -> HttpResponse:
    """To the case; from the chair first to what the news has opened ("which medicine?"), then back to the chair."""
    back = running.way_back(case=case, user=request.user)
    if back is None:
        return redirect("case", pk=case.pk)
    still_open, _kept = questions_to_ask(case, user=request.user)
    return redirect("ask", pk=case.pk) if still_open else redirect(back.url)


def _replies(request: StaffRequest, items: tuple[ReaskItem, ...]) -> dict[str, str]:
    """ "All as before" answers only what was not ticked: a reply that was ticked is never swept away by it."""
    given = {item.id: request.POST.get(item.id, "") for item in items}
    ticked = {name: reply for name, reply in given.items() if reply}
    return {item.id: item.usual for item in items} | ticked if "as_before" in request.POST else ticked


def _declined(row: Reask) -> bool:
    return any(item.id == GO_AHEAD for item in waiting_in(row))


def _tell(request: StaffRequest, *, changed: bool) -> None:
    if changed:
        messages.warning(request, _("Something has changed. A clinician looks at the findings before it goes on."))
    else:
        messages.success(request, _("All as before, asked by %(name)s.") % {"name": request.user.name})
