"""The consent of a case as staff see it: the talk, who signed what, countersigning, withdrawing."""

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
from whitening.consent.actions import countersign, record_talk, withdraw
from whitening.consent.forms import TalkForm
from whitening.consent.reading import photo_choices, quote_for, standing, talk_about


@staff(Capability.CONSENT_READ)
def consent(request: StaffRequest, pk: int) -> HttpResponse:
    return _page(request, access_case(user=request.user, pk=pk), TalkForm())


@staff(Capability.CONSENT_RECORD, methods=("POST",))
def talk(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk)
    form = TalkForm(request.POST)
    if not form.is_valid():
        return _page(request, case, form, status=422)
    try:
        record_talk(case=case, details=form.details(), user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _page(request, case, form, status=409)
    messages.success(request, _("The talk is recorded. The patient can sign now, on the phone or on the tablet."))
    return redirect("consent", pk=pk)


@staff(Capability.COUNTERSIGN, methods=("POST",))
def countersigned(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk)
    try:
        countersign(case=case, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return _page(request, case, TalkForm(), status=409)
    messages.success(request, _("Countersigned."))
    return redirect("case", pk=pk)


@staff(Capability.CONSENT_WITHDRAW, methods=("POST",))
def withdrawn(request: StaffRequest, pk: int) -> HttpResponse:
    """On the patient's word, in one tap."""
    case = access_case(user=request.user, pk=pk)
    try:
        withdraw(case=case, words=request.POST.get("words", "")[:500], actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return _page(request, case, TalkForm(), status=409)
    messages.success(request, _("The consent is withdrawn. Nothing more may be done under it."))
    return redirect("consent", pk=pk)


def _page(request: StaffRequest, case: Case, form: TalkForm, *, status: int = 200) -> HttpResponse:
    held = standing(case)
    context = {
        "case": case,
        "form": form,
        "standing": held,
        "talk": talk_about(held.plan) if held.plan else None,
        "quote": quote_for(held.plan) if held.plan else None,
        "photographs": list(photo_choices(case).items()),
        "bookings": case.visits.select_related("booking").order_by("booking__starts_at"),
    }
    return render(request, "consent/consent.html", context, status=status)
