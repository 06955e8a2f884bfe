"""Writing to a doctor or specialist about a finding."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.screening.actions import write_letter
from whitening.screening.forms import LetterForm
from whitening.screening.views.assessing import assessment_page


@staff(Capability.EXAMINE_AND_DECIDE, methods=("POST",))
def letter(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.EXAMINE_AND_DECIDE)
    form = LetterForm.sent(request.POST)
    if not form.is_valid():
        return assessment_page(request, case, letter_form=form, status=422)
    try:
        write_letter(case=case, details=form.details(), user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return assessment_page(request, case, letter_form=form, status=409)
    messages.success(request, _("The letter is made. Print it from under the finding, sign it, and send it."))
    return redirect("assessment", pk=pk)
