"""How a call went, and what becomes of a message that went astray: pressed in Follow-ups."""

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.dates import moment_words
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, require
from clinic.messages.access import access_call, access_message
from clinic.messages.actions import byhand
from clinic.messages.models import Outcome
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.recall import wanted
from whitening.recall.access import access_follow_up
from whitening.recall.actions import log_attempt
from whitening.recall.actions.calls import to_note
from whitening.recall.forms import AstrayForm, AttemptForm, MessageCallForm
from whitening.recall.models import AttemptResult, FollowUp, FollowUpKind, FollowUpState

_WRONG = gettext_lazy("The number is marked as wrong. Ask for another one: the call waits here for it.")

_ASK_STILL = gettext_lazy("The call is noted. Now find a time; an assistant or a clinician still asks how they are.")


def back(request: StaffRequest) -> HttpResponse:
    """To the list as it was looked at."""
    asked = wanted.query(wanted.read(QueryDict(request.POST.get("back", "")).dict()))
    return redirect(reverse("followups") + (f"?{asked}" if asked else ""))


@staff(Capability.RECALL_CALL, methods=("POST",))
def attempt(request: StaffRequest, pk: int) -> HttpResponse:
    follow_up = access_follow_up(user=request.user, pk=pk, to=Capability.RECALL_CALL)
    form = AttemptForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Say how the call went."))
        return back(request)
    result = AttemptResult(form.cleaned_data["result"])
    require(request.user, to_note(follow_up.kind, result), follow_up.site)
    try:
        log_attempt(
            follow_up=follow_up,
            seen_version=form.cleaned_data["seen_version"],
            result=result,
            words=form.cleaned_data["words"],
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        messages.error(request, _with_words(refusal, form.cleaned_data["words"]))
        return back(request)
    return _after(request, follow_up, result)


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def message_call(request: StaffRequest, pk: int) -> HttpResponse:
    """A call that stands in for a message which could not reach the patient."""
    call = access_call(user=request.user, pk=pk, to=Capability.MESSAGES_SEND)
    form = MessageCallForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Say how the call went."))
        return back(request)
    outcome = Outcome(form.cleaned_data["outcome"])
    try:
        byhand.settle_call(call=call, outcome=outcome, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        said = _WRONG if outcome is Outcome.WRONG_NUMBER else _("The call is noted.")
        messages.success(request, said)
    return back(request)


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def message_astray(request: StaffRequest, pk: int) -> HttpResponse:
    """Sent again, called about, or let be."""
    message = access_message(user=request.user, pk=pk, to=Capability.MESSAGES_SEND)
    form = AstrayForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Say what becomes of the message."))
        return back(request)
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
    return back(request)


def _after(request: StaffRequest, follow_up: FollowUp, result: AttemptResult) -> HttpResponse:
    """Straight on to what the call was for: a time, or the answers while the patient is still there."""
    if result is AttemptResult.WANTS_VISIT:
        asked = FollowUp.objects.filter(pk=follow_up.pk).exclude(closed_at=None).exists()
        messages.success(request, _("The call is noted. Now find a time.") if asked else str(_ASK_STILL))
        purpose = "review" if follow_up.kind == FollowUpKind.REVIEW else "problem"
        return redirect("case_time", pk=follow_up.case_id, purpose=purpose)
    if result is AttemptResult.REACHED and follow_up.kind != FollowUpKind.REVIEW:
        messages.success(request, _("The call is noted. Now type in what the patient says."))
        return redirect("type_reply", session_pk=follow_up.session_id)
    messages.success(request, _said(follow_up, result))
    return back(request)


def _with_words(refusal: Refusal, words: str) -> str:
    """What was typed is not lost with the line that it was typed into."""
    if not words:
        return str(refusal)
    return _("%(refusal)s You had written: “%(words)s”.") % {"refusal": refusal, "words": words}


def _said(follow_up: FollowUp, result: AttemptResult) -> str:
    """What follows from it."""
    held = FollowUp.objects.select_related("site").get(pk=follow_up.pk)
    if result is AttemptResult.WRONG_NUMBER and held.closed_at is None:
        return (
            str(_WRONG) if held.next_at <= now() else _("The number is marked as wrong. We ask in writing meanwhile.")
        )
    if held.state == FollowUpState.NOT_REACHED:
        return _("The call is noted. That was the third in vain: see Not reached.")
    if held.closed_at is not None:
        return _("The call is noted.")
    return _("The call is noted. It comes back here %(when)s.") % {"when": moment_words(held.next_at, held.site.zone)}
