"""Giving a call or a worrying answer to somebody else."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.models import Site
from clinic.accounts.rights import Capability, who_may
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case
from whitening.recall.access import access_escalation, access_follow_up
from whitening.recall.actions import hand_on, hand_on_answer
from whitening.recall.actions.calls import capability_for
from whitening.recall.forms import OwnerForm


@staff(Capability.RECALL_CALL, methods=("GET", "POST"))
def followup_owner(request: StaffRequest, pk: int) -> HttpResponse:
    found = access_follow_up(user=request.user, pk=pk, to=Capability.RECALL_CALL)
    form = _form(request, capability_for(found.kind), found.site)
    if form.is_bound and form.is_valid():
        try:
            hand_on(follow_up=found, **form.cleaned_data, user=request.user, actor=request.actor)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _("It is theirs now."))
            return redirect("followups")
    return _page(request, form, found.case, found.owner.name if found.owner else "")


@staff(Capability.REPLIES_READ, methods=("GET", "POST"))
def escalation_owner(request: StaffRequest, pk: int) -> HttpResponse:
    found = access_escalation(user=request.user, pk=pk, to=Capability.REPLIES_READ)
    form = _form(request, Capability.REPLIES_READ, found.case.site)
    if form.is_bound and form.is_valid():
        try:
            hand_on_answer(escalation=found, **form.cleaned_data, user=request.user, actor=request.actor, now=now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _("It is theirs now, and they are told at once."))
            return redirect("followups")
    return _page(request, form, found.case, found.owner.name if found.owner else "")


def _form(request: StaffRequest, capability: Capability, site: Site) -> OwnerForm:
    able = [person.pk for person in who_may(capability, site)]
    return OwnerForm(request.POST if request.method == "POST" else None, able=able)


def _page(request: StaffRequest, form: OwnerForm, case: Case, owner: str) -> HttpResponse:
    context = {"form": form, "case": case, "owner": owner}
    return render(request, "recall/owner.html", context, status=422 if form.is_bound else 200)
