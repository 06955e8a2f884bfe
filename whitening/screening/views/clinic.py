"""The clinician's pages of a case: what was answered and what follows from it, the examination, the plan."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case, plan_in_force
from whitening.cases.models import Case
from whitening.screening import answers as answering
from whitening.screening.actions import decide, examine, make_plan
from whitening.screening.decisions import DecisionKind
from whitening.screening.examination import Item
from whitening.screening.forms import DecisionForm, ExaminationForm, PlanForm
from whitening.screening.jurisdictions import facts_are_old
from whitening.screening.questions import questions_for
from whitening.screening.reading import jurisdiction_of, newest_answers, newest_examination, outcome_of
from whitening.screening.views.questions import answer_words


@staff(Capability.ANSWERS_READ)
def assessment(request: StaffRequest, pk: int) -> HttpResponse:
    """Answers, findings with reason, source and what would clear each, and the decisions so far."""
    case = access_case(user=request.user, pk=pk)
    note_read(
        actor=request.actor, what="answers", subject=("case", pk), patient_id=case.patient_id, site_id=case.site_id
    )
    return _assessment(request, case)


@staff(Capability.EXAMINE_AND_DECIDE, methods=("POST",))
def decision(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk)
    form = DecisionForm(request.POST)
    if not form.is_valid():
        return _assessment(request, case, form=form, status=422)
    data = form.cleaned_data
    try:
        decide(
            case=case,
            rule=data["rule"],
            basis=data["basis"],
            kind=DecisionKind(data["kind"]),
            reason=data["reason"],
            evidence=data["evidence"],
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _assessment(request, case, form=form, status=409)
    messages.success(request, _("The decision is recorded."))
    return redirect("assessment", pk=pk)


@staff(Capability.EXAMINE_AND_DECIDE, methods=("GET", "POST"))
def examination(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk)
    form = ExaminationForm(request.POST or None, initial={"looked_at": list(Item), "periodontitis": "none"})
    if request.method == "POST" and form.is_valid():
        found = form.examination(now=now(), site=case.site, profession=request.user.profession)
        try:
            examine(
                case=case,
                examination=found,
                note=form.cleaned_data["note"],
                user=request.user,
                actor=request.actor,
                now=now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _("The examination is recorded."))
            return redirect("assessment", pk=pk)
    context = {"case": case, "form": form, "teeth": list(form.teeth())}
    return render(request, "screening/examination.html", context, status=422 if form.is_bound else 200)


@staff(Capability.PLAN_WRITE, methods=("GET", "POST"))
def plan(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk)
    held = plan_in_force(case)
    form = PlanForm(request.POST or None, case=case, initial={"arches": ["upper", "lower"]})
    if request.method == "POST" and form.is_valid():
        try:
            make_plan(case=case, details=form.details(), user=request.user, actor=request.actor, now=now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _("The plan is recorded. Now talk it through and let the patient sign."))
            return redirect("case", pk=pk)
    jurisdiction = jurisdiction_of(case)
    today = now().astimezone(case.site.zone).date()
    old = jurisdiction is not None and facts_are_old(jurisdiction=jurisdiction, today=today)
    context = {"case": case, "form": form, "held": held, "jurisdiction": jurisdiction, "facts_are_old": old}
    return render(request, "screening/plan.html", context, status=422 if form.is_bound else 200)


def _assessment(
    request: StaffRequest, case: Case, *, form: DecisionForm | None = None, status: int = 200
) -> HttpResponse:
    at = now()
    given = newest_answers(case)
    values = answering.from_data({name: row["value"] for name, row in given.values.items()}) if given else {}
    outcome = outcome_of(case, today=at.astimezone(case.site.zone).date())
    context = {
        "case": case,
        "given": given,
        "answers": [(one, answer_words(one, values.get(one.id))) for one in questions_for(values)] if given else [],
        "outcome": outcome,
        "findings": sorted(outcome.findings, key=lambda finding: -finding.rule.grade),
        "examination": newest_examination(case),
        "form": form or DecisionForm(),
        "kinds": list(DecisionKind),
    }
    return render(request, "screening/assessment.html", context, status=status)
