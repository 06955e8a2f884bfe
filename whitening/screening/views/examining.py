"""The examination of a case, on one page that works without any script."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.screening.actions import examine
from whitening.screening.forms import ExaminationForm
from whitening.screening.grades import Profession
from whitening.screening.reading import jurisdiction_of, newest_examination
from whitening.screening.verdicts import may_examine


@staff(Capability.EXAMINE_AND_DECIDE, methods=("GET", "POST"))
def examination(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.EXAMINE_AND_DECIDE)
    at = now()
    today = at.astimezone(case.site.zone).date()
    form = ExaminationForm(request.POST if request.method == "POST" else None, today=today)
    status = 422 if form.is_bound else 200
    if form.is_bound and form.is_valid():
        found = form.examination(now=at, site=case.site, profession=request.user.profession)
        note = form.cleaned_data["note"]
        try:
            examine(case=case, examination=found, note=note, user=request.user, actor=request.actor, now=at)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
            status = 409
        else:
            messages.success(request, _("The examination is recorded."))
            return redirect("assessment", pk=pk)
    jurisdiction = jurisdiction_of(case)
    profession = Profession(request.user.profession)
    counts = jurisdiction is None or may_examine(jurisdiction=jurisdiction, profession=profession)
    context = {
        "case": case,
        "form": form,
        "arches": form.arches(),
        "earlier": newest_examination(case),
        "counts": counts,
        "profession": profession.label,
        "out_of_date": not request.user.in_date(today),
    }
    return render(request, "screening/examination.html", context, status=status)
