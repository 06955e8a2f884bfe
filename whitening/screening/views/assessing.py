"""What was answered and what follows from it: findings with reason and source, and the decisions about them."""

from dataclasses import dataclass
from datetime import date

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case, plan_in_force
from whitening.cases.models import Case, PlannedLight
from whitening.screening.actions import decide, decide_reask, sign_assessment
from whitening.screening.forms import DecisionForm, LetterForm, ReaskDecisionForm
from whitening.screening.grades import AnsweredBy, Family
from whitening.screening.ingredients import Hint, hints
from whitening.screening.joined import is_joined_unread, other_courses, to_sign
from whitening.screening.models import AssessmentSignature
from whitening.screening.outcome import Finding, Outcome
from whitening.screening.questions import MEDICINES, open_questions
from whitening.screening.reading import (
    Told,
    answers_of,
    newest_answers,
    newest_examination,
    newest_reask,
    outcome_of,
    told,
    waiting_in,
)
from whitening.screening.signed import Line, digest, is_complete, lines
from whitening.screening.views.findings import finding_rows, papers_to_read
from whitening.screening.views.words import answer_words


@staff(Capability.ANSWERS_READ)
def assessment(request: StaffRequest, pk: int) -> HttpResponse:
    """Answers, findings with reason, source and what would clear each, and the decisions so far."""
    case = access_case(user=request.user, pk=pk, to=Capability.ANSWERS_READ)
    note_read(
        actor=request.actor, what="answers", subject=("case", pk), patient_id=case.patient_id, site_id=case.site_id
    )
    return assessment_page(request, case)


@staff(Capability.EXAMINE_AND_DECIDE, methods=("POST",))
def decision(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.EXAMINE_AND_DECIDE)
    papers = papers_to_read(case, request.user)
    form = DecisionForm.sent(request.POST, papers=papers)
    if not form.is_valid():
        return assessment_page(request, case, form=form, status=422)
    data = form.cleaned_data
    try:
        decide(
            case=case,
            rule=data["rule"],
            basis=data["basis"],
            kind=form.chosen,
            reason=data["reason"],
            evidence=data["evidence"],
            paper=next((paper for paper in papers if paper.pk == data.get("paper")), None),
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return assessment_page(request, case, form=form, status=409)
    messages.success(request, _("The decision is recorded."))
    return redirect("assessment", pk=pk)


@staff(Capability.EXAMINE_AND_DECIDE, methods=("POST",))
def reask_decision(request: StaffRequest, pk: int) -> HttpResponse:
    """About what was new on the day and has no rule behind it."""
    case = access_case(user=request.user, pk=pk, to=Capability.EXAMINE_AND_DECIDE)
    form = ReaskDecisionForm(request.POST)
    if not form.is_valid():
        return assessment_page(request, case, reask_form=form, status=422)
    try:
        decide_reask(case=case, reason=form.cleaned_data["reason"], user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return assessment_page(request, case, reask_form=form, status=409)
    messages.success(request, _("The decision is recorded."))
    return redirect("assessment", pk=pk)


@staff(Capability.EXAMINE_AND_DECIDE, methods=("POST",))
def sign(request: StaffRequest, pk: int) -> HttpResponse:
    """Everything was read as it stands on the page."""
    case = access_case(user=request.user, pk=pk, to=Capability.EXAMINE_AND_DECIDE)
    seen = request.POST.get("seen", "")
    try:
        sign_assessment(case=case, seen=seen, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return assessment_page(request, case, status=409)
    messages.success(request, _("Signed as read."))
    return redirect("assessment", pk=pk)


def assessment_page(
    request: StaffRequest,
    case: Case,
    *,
    form: DecisionForm | None = None,
    reask_form: ReaskDecisionForm | None = None,
    letter_form: LetterForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """As it stands after whatever was tried on it."""
    today = now().astimezone(case.site.zone).date()
    decides = may(request.user, Capability.EXAMINE_AND_DECIDE, case.site)
    # Consent stands on its own page, and who carries it out is known on the day only.
    outcome = outcome_of(case, today=today).without(Family.CONSENT)
    others = other_courses(case, today=today)
    seen = digest(to_sign(outcome, others))
    answers, reask = answers_of(case), newest_reask(case)
    context = {
        "case": case,
        "given": newest_answers(case),
        "answers": [_said(row) for row in told(case)],
        "outcome": outcome,
        "findings": finding_rows(
            case, outcome.findings, user=request.user, decides=decides, form=form, letter_form=letter_form
        ),
        "files": may(request.user, Capability.PAPERS_FILE, case.site),
        "unanswered": [one for one in outcome.unanswered if one.waits_for is not AnsweredBy.SYSTEM],
        "clear": outcome.without(Family.LAW).clear,
        "examination": newest_examination(case),
        "form": form or DecisionForm(),
        "decides": decides,
        "asks": may(request.user, Capability.REASK, case.site) and case.closed_at is None,
        "open_count": len(open_questions(held=answers.values if answers else {})),
        "reask": reask,
        "waiting": waiting_in(reask) if reask else (),
        "reask_form": reask_form or ReaskDecisionForm(),
        "ends_without_light": _ends_without_light(case, outcome, today),
        "seen": seen,
        "signed": _signed(case, seen),
        "others": others,
        "joined_unread": is_joined_unread(case),
        "may_sign": decides and case.closed_at is None and is_complete(outcome),
    }
    return render(request, "screening/assessment.html", context, status=status)


def _ends_without_light(case: Case, outcome: Outcome, today: date) -> list[Finding]:
    """What would stand no more if the plan in force used no light."""
    plan = plan_in_force(case)
    if plan is None or plan.light == PlannedLight.NONE:
        return []
    dark = {finding.rule.code for finding in outcome_of(case, today=today, plan=plan, light_off=True).in_force}
    return [finding for finding in outcome.in_force if finding.rule.code not in dark]


@dataclass(frozen=True, slots=True)
class Signed:
    row: AssessmentSignature
    lines: list[Line]
    stands: bool


def _signed(case: Case, seen: str) -> list[Signed]:
    """The newest first; an older one stays, with what was known then."""
    rows = case.assessment_signatures.select_related("signed_by").order_by("-signed_at", "-pk")
    return [Signed(row, lines(row.outcome), row.sha256 == seen) for row in rows]


@dataclass(frozen=True, slots=True)
class Said:
    text: StrOrPromise
    words: str
    given_on: date | None
    earlier: tuple[tuple[str, date], ...]
    hints: tuple[Hint, ...] = ()


def _said(row: Told) -> Said:
    earlier = tuple((answer_words(row.question, value), given_on) for value, given_on in row.earlier)
    listed = row.value if row.question.id == MEDICINES and isinstance(row.value, tuple) else ()
    return Said(row.question.text, answer_words(row.question, row.value), row.given_on, earlier, hints(listed))
