"""Questions that are still open, asked by staff: on the telephone, from paper, or face to face."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.cases.models import Case
from whitening.screening.actions import answer_here
from whitening.screening.forms import AskForm
from whitening.screening.models import Source
from whitening.screening.questions import IN_PRIVATE, Question, open_questions
from whitening.screening.reading import answers_of


@staff(Capability.REASK, methods=("GET", "POST"))
def ask(request: StaffRequest, pk: int) -> HttpResponse:
    """Only what has no answer: nobody reads or changes here what the patient said."""
    case = access_case(user=request.user, pk=pk)
    at = now()
    questions, kept_for_clinician = _questions(request, case)
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
            still_open, _kept = _questions(request, case)
            return redirect("ask", pk=pk) if still_open else redirect("case", pk=pk)
    context = {"case": case, "form": form, "asked": list(form.asked()), "kept_for_clinician": kept_for_clinician}
    return render(request, "screening/ask.html", context, status=status)


def _questions(request: StaffRequest, case: Case) -> tuple[list[Question], int]:
    """Those this person may ask, and how many are left to a clinician because the patient wants it private."""
    answers = answers_of(case)
    held = answers.values if answers else {}
    found = open_questions(held=held)
    if may(request.user, Capability.EXAMINE_AND_DECIDE, case.site):
        return list(found), 0
    allowed = [one for one in found if not one.private and held.get(one.id) != IN_PRIVATE]
    return allowed, len(found) - len(allowed)
