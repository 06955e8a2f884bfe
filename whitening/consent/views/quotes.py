"""The quote: for the desk, with what was recorded about a deposit; for the patient, as a paper."""

from decimal import Decimal

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.diary.kinds import VISIT
from clinic.documents import archive
from clinic.documents.views.files import pdf_response, shown
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case, plan_in_force
from whitening.cases.models import Case
from whitening.consent.actions import record_deposit
from whitening.consent.models import DepositStep, Quote
from whitening.consent.quotes import deposits_of, held_of, paper_of
from whitening.consent.reading import quote_for
from whitening.screening.views.questions import case_of


class DepositForm(forms.Form):
    step = forms.ChoiceField(
        label=gettext_lazy("The deposit was"),
        choices=DepositStep.choices,
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("Say what happened to the deposit.")},
    )
    amount = forms.DecimalField(
        label=gettext_lazy("Amount"),
        min_value=Decimal("0.01"),
        max_digits=9,
        decimal_places=2,
        error_messages={"min_value": gettext_lazy("Enter an amount above nothing.")},
    )
    words = forms.CharField(
        label=gettext_lazy("Why, or how"),
        help_text=gettext_lazy("Needed when it is kept. Nothing clinical: the desk reads it."),
        required=False,
        max_length=300,
    )


@staff(Capability.CASE_READ)
def quote(request: StaffRequest, pk: int) -> HttpResponse:
    return _page(request, access_case(user=request.user, pk=pk, to=Capability.CASE_READ))


@staff(Capability.DOCUMENTS_READ, methods=("POST",))
def quote_paper(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.DOCUMENTS_READ)
    held = _held(case)
    if held is None:
        raise Http404
    try:
        document = paper_of(held, is_large="large" in request.POST, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return _page(request, case, status=409)
    return shown(request, document, is_shown=True)


@staff(Capability.DEPOSIT_RECORD, methods=("POST",))
def deposit(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.DEPOSIT_RECORD)
    form = DepositForm(request.POST)
    if not form.is_valid():
        return _page(request, case, form=form, status=422)
    said = form.cleaned_data | {"step": DepositStep(form.cleaned_data["step"])}
    try:
        record_deposit(case=case, user=request.user, actor=request.actor, now=now(), **said)
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _page(request, case, form=form, status=409)
    messages.success(request, _("Recorded."))
    return redirect("quote", pk=pk)


@patient(VISIT, methods=("GET", "POST"), code_needed=True)
def own_paper(request: PatientRequest) -> HttpResponse:
    """Looking draws nothing: the file is made by a press, in the size of letters that is wanted."""
    held, error = _held(case_of(request)), ""
    if held is None:
        raise Http404
    if request.method == "POST":
        try:
            document = paper_of(held, is_large="large" in request.POST, actor=request.actor, now=now())
            return pdf_response(document, archive.read(document.sha256), is_shown=True)
        except Refusal as refusal:
            error = str(refusal)
    return render(request, "consent/own_quote.html", {"quote": held, "error": error}, status=409 if error else 200)


def _held(case: Case) -> Quote | None:
    plan = plan_in_force(case)
    return quote_for(plan) if plan else None


def _page(request: StaffRequest, case: Case, *, form: DepositForm | None = None, status: int = 200) -> HttpResponse:
    user, site, held = request.user, case.site, _held(case)
    context = {
        "case": case,
        "quote": held,
        "today": now().astimezone(site.zone).date(),
        "deposits": deposits_of(case),
        "held": held_of(case, currency=held.currency) if held else None,
        "form": form or DepositForm(),
        "may_print": may(user, Capability.DOCUMENTS_READ, site),
        "may_record": may(user, Capability.DEPOSIT_RECORD, site),
    }
    return render(request, "consent/quote.html", context, status=status)
