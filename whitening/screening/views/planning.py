"""The plan of a case: what will be done, refused where a must-not or local rules forbid it."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case, plan_in_force
from whitening.screening.actions import PlanForbidden, make_plan
from whitening.screening.forms import PlanForm
from whitening.screening.outcome import Finding
from whitening.screening.reading import examination_of, jurisdiction_of
from whitening.screening.verdicts import facts_are_old


@staff(Capability.PLAN_WRITE, methods=("GET", "POST"))
def plan(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.PLAN_WRITE)
    held = plan_in_force(case)
    sent = request.POST if request.method == "POST" else None
    form = PlanForm(sent, case=case, held=held, examined=examination_of(case))
    forbidding: tuple[Finding, ...] = ()
    status = 422 if form.is_bound else 200
    if form.is_bound and form.is_valid():
        try:
            make_plan(
                case=case,
                details=form.details(),
                user=request.user,
                actor=request.actor,
                now=now(),
                based_on=form.cleaned_data["based_on"],
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
            forbidding = refusal.findings if isinstance(refusal, PlanForbidden) else ()
            status = 409
            # The other person's plan is on the page now; sending again is meant for it.
            form.data = request.POST.copy()
            form.data["based_on"] = str(held.version if held else 0)
        else:
            messages.success(request, _("The plan is recorded. What is still missing stands below."))
            return redirect("case", pk=pk)
    jurisdiction = jurisdiction_of(case)
    today = now().astimezone(case.site.zone).date()
    context = {
        "case": case,
        "form": form,
        "held": held,
        "jurisdiction": jurisdiction,
        "facts_are_old": jurisdiction is not None and facts_are_old(jurisdiction=jurisdiction, today=today),
        "forbidding": forbidding,
        "out_of_date": not request.user.in_date(today),
    }
    return render(request, "screening/plan.html", context, status=status)
