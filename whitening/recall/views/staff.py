"""Follow-ups as staff see them: by what must happen now; calls, worrying answers, the review."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.messages.models import Call
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.chairside.models import Session
from whitening.recall.actions import close_escalation, log_attempt, record_reply, record_review
from whitening.recall.forms import AttemptForm, HowAreYouForm, ReviewForm
from whitening.recall.models import AttemptResult, Escalation, FollowUp, FollowUpState

SHOWN = 100


@staff(Capability.FOLLOWUPS_READ)
def followups(request: StaffRequest) -> HttpResponse:
    """Worrying answers, calls to make, waiting for an answer, coming. What was said needs its own right."""
    at = now()
    open_ones = FollowUp.objects.visible_to(request.user).open().select_related("case__patient", "session", "owner")
    context = {
        "escalations": list(
            Escalation.objects.visible_to(request.user).open().select_related("case__patient", "owner")[:SHOWN]
        ),
        "calls": list(open_ones.filter(state=FollowUpState.CALL)[:SHOWN]),
        "message_calls": list(Call.objects.visible_to(request.user).open().select_related("patient")[:SHOWN]),
        "asked": list(open_ones.filter(state=FollowUpState.ASKED)[:SHOWN]),
        "coming": list(open_ones.filter(state=FollowUpState.WAITING)[:SHOWN]),
        "results": AttemptResult.choices,
        "may_read": may(request.user, Capability.REPLIES_READ, request.site),
        "now": at,
    }
    return render(request, "recall/followups.html", context)


@staff(Capability.FOLLOWUPS_WORK, methods=("POST",))
def attempt(request: StaffRequest, pk: int) -> HttpResponse:
    follow_up = FollowUp.objects.visible_to(request.user).select_related("case__site").filter(pk=pk).first()
    if follow_up is None:
        raise Http404
    form = AttemptForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Say how the call went."))
        return redirect("followups")
    try:
        log_attempt(
            follow_up=follow_up,
            result=AttemptResult(form.cleaned_data["result"]),
            words=form.cleaned_data["words"],
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("followups")
    messages.success(request, _("The call is noted."))
    if form.cleaned_data["result"] == AttemptResult.WANTS_VISIT:
        return redirect("case_time", pk=follow_up.case_id, purpose="problem")
    return redirect("followups")


@staff(Capability.REPLIES_READ, methods=("GET", "POST"))
def escalation(request: StaffRequest, pk: int) -> HttpResponse:
    """One worrying answer: what was said, by when to answer, and the word that closes it."""
    rows = Escalation.objects.visible_to(request.user)
    found = rows.select_related("case__site", "case__patient", "reply__session", "owner").filter(pk=pk).first()
    if found is None:
        raise Http404
    error = ""
    if request.method == "POST":
        words = request.POST.get("words", "")[:500]
        try:
            close_escalation(escalation=found, words=words, user=request.user, actor=request.actor, now=now())
        except Refusal as refusal:
            error = str(refusal)
        else:
            messages.success(request, _("Settled."))
            return redirect("followups")
    context = {"escalation": found, "error": error, "answers": _answers(HowAreYouForm(), found.reply.answers)}
    return render(request, "recall/escalation.html", context, status=422 if error else 200)


@staff(Capability.FOLLOWUPS_WORK, methods=("GET", "POST"))
def type_reply(request: StaffRequest, session_pk: int) -> HttpResponse:
    """The same questions, typed in while the patient is on the telephone."""
    rows = Session.objects.filter(case__site__memberships__user=request.user).distinct()
    session = rows.select_related("case__site", "case__patient").filter(pk=session_pk).first()
    if session is None or session.closed_at is None:
        raise Http404
    form = HowAreYouForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        record_reply(session=session, answers=form.answers(), actor=request.actor, now=now(), typed_by_staff=True)
        messages.success(request, _("The answers are kept."))
        return redirect("followups")
    context = {"form": form, "session": session}
    return render(request, "recall/type_reply.html", context, status=422 if form.is_bound else 200)


@staff(Capability.REVIEW_RECORD, methods=("GET", "POST"))
def review(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk)
    form = ReviewForm(request.POST or None)
    status = 422 if form.is_bound else 200
    if request.method == "POST" and form.is_valid():
        try:
            record_review(case=case, details=form.details(), user=request.user, actor=request.actor, now=now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
            status = 409
        else:
            messages.success(request, _("The review is recorded and the case is closed."))
            return redirect("case", pk=pk)
    return render(request, "recall/review.html", {"case": case, "form": form}, status=status)


def _spoken(answers: dict[str, object]) -> dict[str, object]:
    """Yes and no as the form's choices name them."""
    words = {True: "yes", False: "no"}
    return {name: words[value] if isinstance(value, bool) else value for name, value in answers.items()}


def _answers(form: HowAreYouForm, answers: dict[str, object]) -> list[tuple[object, object]]:
    """(question, answer in words) for what was answered."""
    spoken = _spoken(answers)
    found: list[tuple[object, object]] = []
    for name, field in form.fields.items():
        value = spoken.get(name)
        if value is not None and name != "call_me":
            found.append((field.label, dict(getattr(field, "choices", ())).get(value, value)))
    return found
