"""Questions that are still open, asked by staff: on the telephone, from paper, or face to face."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.screening import running
from whitening.screening.actions import answer_here
from whitening.screening.forms import AskForm
from whitening.screening.models import Source
from whitening.screening.reading import questions_to_ask


@staff(Capability.REASK, methods=("GET", "POST"))
def ask(request: StaffRequest, pk: int) -> HttpResponse:
    """Only what has no answer: nobody reads or changes here what the patient said."""
    case = access_case(user=request.user, pk=pk, to=Capability.REASK)
    at, back = now(), running.way_back(case=case, user=request.user)
    questions, kept_for_clinician = questions_to_ask(case, user=request.user)
    form = AskForm(
        request.POST if request.method == "POST" else None,
        questions=questions,
        today=at.astimezone(case.site.zone).date(),
    )
    status = 422 if form.is_bound else 200
    if form.is_bound and form.is_valid():
        try:
            answer_here(
                case=case,
                values=form.values(),
                source=Source(form.cleaned_data["source"]),
                user=request.user,
                actor=request.actor,
                now=at,
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
            status = 409
        else:
            messages.success(request, _("The answers are recorded."))
            still_open, _kept = questions_to_ask(case, user=request.user)
            if still_open:
                return redirect("ask", pk=pk)
            return redirect(back.url) if back else redirect("case", pk=pk)
    context = {
        "case": case,
        "back": back,
        "form": form,
        "asked": list(form.asked()),
        "kept_for_clinician": kept_for_clinician,
    }
    return render(request, "screening/ask.html", context, status=status)
