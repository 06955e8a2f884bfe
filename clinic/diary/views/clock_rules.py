"""Visits whose moment has changed with the clock rules: a list, and one button that keeps every agreed time."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import ngettext

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import actions, clock_rules
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def page(request: StaffRequest) -> HttpResponse:
    at, error = now(), ""
    if request.method == "POST":
        try:
            kept = actions.keep_clock_times(site=request.site, actor=request.actor, now=at)
        except Refusal as refusal:
            error = str(refusal)
        else:
            words = ngettext("%(kept)d visit keeps its time.", "%(kept)d visits keep their time.", kept)
            messages.success(request, words % {"kept": kept})
            return redirect("today")
    visits = clock_rules.shifted_visits(request.site, now=at)
    context = {"visits": visits, "rules": clock_rules.RULES, "site": request.site, "error": error}
    return render(request, "diary/clock_rules.html", context, status=409 if error else 200)
