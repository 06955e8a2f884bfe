"""Follow-ups as staff see them: by what must happen now, and the calls that settle them."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, sites_where
from clinic.messages import kinds
from clinic.messages.access import access_call, access_message
from clinic.messages.actions import byhand
from clinic.messages.astray import astray
from clinic.messages.models import Call, DueMessage, Outcome
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.recall.access import access_follow_up
from whitening.recall.actions import log_attempt
from whitening.recall.forms import AstrayForm, AttemptForm, MessageCallForm
from whitening.recall.models import AttemptResult, Escalation, FollowUp, FollowUpKind, FollowUpQuerySet, FollowUpState
from whitening.recall.waiting import waiting

SHOWN = 100


@staff(Capability.FOLLOWUPS_READ)
def followups(request: StaffRequest) -> HttpResponse:
    """Worrying answers, calls to make, waiting for an answer, coming. What was said needs its own right."""
    at, user = now(), request.user
    open_ones = FollowUp.objects.visible_to(user).open().select_related("case__patient", "case__site", "owner")
    escalations = Escalation.objects.visible_to(user).open().select_related("case__patient", "case__site", "owner")
    waits = waiting(escalations[:SHOWN], now=at)
    calls = open_ones.filter(state=FollowUpState.CALL)
    due_calls, message_calls = list(calls.filter(due_at__lte=at)[:SHOWN]), _message_calls(request)
    context = {
        "escalations": waits,
        "number_overdue": sum(one.is_overdue for one in waits),
        "calls": due_calls,
        "number_of_calls": len(due_calls) + len(message_calls),
        "later_calls": list(calls.filter(due_at__gt=at)[:SHOWN]),
        "message_calls": message_calls,
        "astray": _astray(request),
        "asked": list(open_ones.filter(state=FollowUpState.ASKED)[:SHOWN]),
        "not_reached": list(_not_reached(request)[:SHOWN]),
        "coming": list(open_ones.filter(state=FollowUpState.WAITING)[:SHOWN]),
        "results": AttemptResult.choices,
        "outcomes": Outcome.choices,
        "read_at": sites_where(user, Capability.REPLIES_READ),
        "work_at": sites_where(user, Capability.FOLLOWUPS_WORK),
        "settle_at": sites_where(user, Capability.MESSAGES_SEND),
        # The rows are of all their sites, whichever is on the screen.
        "names_site": len(user.roles_by_site) > 1,
        "now": at,
    }
    return render(request, "recall/followups.html", context)


def _not_reached(request: StaffRequest) -> FollowUpQuerySet:
    """Given up, and not settled: until the case is closed somebody may still try another way."""
    given_up = FollowUp.objects.visible_to(request.user).filter(state=FollowUpState.NOT_REACHED, case__closed_at=None)
    return given_up.select_related("case__patient", "case__site", "owner").order_by("-closed_at", "pk")


@staff(Capability.FOLLOWUPS_WORK, methods=("POST",))
def attempt(request: StaffRequest, pk: int) -> HttpResponse:
    follow_up = access_follow_up(user=request.user, pk=pk, to=Capability.FOLLOWUPS_WORK)
    form = AttemptForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Say how the call went."))
        return redirect("followups")
    result = AttemptResult(form.cleaned_data["result"])
    try:
        log_attempt(
            follow_up=follow_up,
            result=result,
            words=form.cleaned_data["words"],
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("followups")
    return _after(request, follow_up, result)


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def message_call(request: StaffRequest, pk: int) -> HttpResponse:
    """A call that stands in for a message which could not reach the patient."""
    call = access_call(user=request.user, pk=pk, to=Capability.MESSAGES_SEND)
    form = MessageCallForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Say how the call went."))
        return redirect("followups")
    outcome = Outcome(form.cleaned_data["outcome"])
    try:
        byhand.settle_call(call=call, outcome=outcome, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("The call is noted."))
    return redirect("followups")


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def message_astray(request: StaffRequest, pk: int) -> HttpResponse:
    """Sent again, called about, or let be."""
    message = access_message(user=request.user, pk=pk, to=Capability.MESSAGES_SEND)
    form = AstrayForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Say what becomes of the message."))
        return redirect("followups")
    done = form.cleaned_data["done"]
    try:
        if done == AstrayForm.AGAIN:
            byhand.send_again(message=message, user=request.user, actor=request.actor, now=now())
        else:
            called = done == AstrayForm.CALLED
            byhand.see_to(message=message, called=called, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, AstrayForm.SAID[done])
    return redirect("followups")


def _after(request: StaffRequest, follow_up: FollowUp, result: AttemptResult) -> HttpResponse:
    """Straight on to what the call was for: a time, or the answers while the patient is still there."""
    if result is AttemptResult.WANTS_VISIT:
        messages.success(request, _("The call is noted. Now find a time."))
        return redirect("case_time", pk=follow_up.case_id, purpose="problem")
    if result is AttemptResult.REACHED and follow_up.kind != FollowUpKind.REVIEW:
        messages.success(request, _("The call is noted. Now type in what the patient says."))
        return redirect("type_reply", session_pk=follow_up.session_id)
    messages.success(request, _("The call is noted."))
    return redirect("followups")


def _message_calls(request: StaffRequest) -> list[tuple[Call, object]]:
    """(call, what the message was about)."""
    rows = Call.objects.visible_to(request.user).open().select_related("patient", "site", "message")
    return [(call, kinds.get(call.message.kind).label) for call in rows[:SHOWN]]


def _astray(request: StaffRequest) -> list[tuple[DueMessage, object]]:
    """(message, what it was about)."""
    return [(one, kinds.get(one.kind).label) for one in astray(request.user)[:SHOWN]]
