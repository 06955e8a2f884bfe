"""What patients said, for staff: one worrying answer and its end, and answers typed in on the telephone."""

from collections.abc import Mapping

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.chairside.access import access_closed_session
from whitening.recall import actions
from whitening.recall.access import access_escalation
from whitening.recall.forms import HowAreYouForm, SettleForm
from whitening.recall.history import history
from whitening.recall.models import Escalation
from whitening.recall.questions import SHORT
from whitening.recall.telling import told
from whitening.recall.waiting import waiting


@staff(Capability.REPLIES_READ, methods=("GET", "POST"))
def escalation(request: StaffRequest, pk: int) -> HttpResponse:
    """One worrying answer: what was said, by when to answer, and the words that close it."""
    found = access_escalation(user=request.user, pk=pk, to=Capability.REPLIES_READ)
    form = SettleForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        words = form.cleaned_data["words"]
        try:
            actions.close_escalation(escalation=found, words=words, user=request.user, actor=request.actor, now=now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
            # A colleague was quicker: what they wrote is shown beside what was typed here.
            return _page(
                request, access_escalation(user=request.user, pk=pk, to=Capability.REPLIES_READ), form, status=409
            )
        messages.success(request, _("Settled."))
        return redirect("followups")
    return _page(request, found, form, status=422 if form.is_bound else 200)


@staff(Capability.REPLIES_READ, methods=("POST",))
def take(request: StaffRequest, pk: int) -> HttpResponse:
    """ "I see to it": whoever takes it answers for it, and nobody is told again."""
    found = access_escalation(user=request.user, pk=pk, to=Capability.REPLIES_READ)
    try:
        actions.take_escalation(escalation=found, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("It is yours now. Write here what came of it when you have seen to it."))
    return redirect("escalation", pk=pk)


@staff(Capability.FOLLOWUPS_WORK, methods=("GET", "POST"))
def type_reply(request: StaffRequest, session_pk: int) -> HttpResponse:
    """The same questions, typed in while the patient is on the telephone."""
    session = access_closed_session(user=request.user, pk=session_pk, to=Capability.FOLLOWUPS_WORK)
    form = HowAreYouForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and (
        # The questions still to be read aloud do not hold up who needs somebody today.
        form.is_valid() or actions.cannot_wait(session=session, answers=form.answers(), now=now())
    ):
        reply, graded = actions.type_reply(
            session=session, answers=form.answers(), user=request.user, actor=request.actor, now=now()
        )
        if graded.worries:
            messages.warning(request, _("The answers are kept. They worry: tell the patient what stands here."))
            return redirect("escalation", pk=reply.escalation.pk)
        messages.success(request, _("The answers are kept."))
        return redirect("followups")
    context = {"form": form, "session": session}
    return render(request, "recall/type_reply.html", context, status=422 if form.is_bound else 200)


def _page(request: StaffRequest, found: Escalation, form: SettleForm, *, status: int) -> HttpResponse:
    case = found.case
    note_read(
        actor=request.actor,
        what="recall.reply",
        subject=("escalation", found.pk),
        patient_id=case.patient_id,
        site_id=case.site_id,
    )
    context = {
        "escalation": found,
        "waits": waiting([found], now=now())[0],
        "may_take": found.closed_at is None and found.taken_at is None,
        "history": history(found),
        "form": form,
        "answers": spoken(found.reply.answers),
        # As it was when it was said: whether the practice was open then decides what the patient read.
        "told": told(found.reply, at=found.reply.said_at),
        "site": case.site,
    }
    return render(request, "recall/escalation.html", context, status=status)


def spoken(answers: Mapping[str, object]) -> list[tuple[object, object]]:
    """(heading, answer) in the words of the form, for what was answered."""
    found: list[tuple[object, object]] = []
    for name, field in HowAreYouForm().fields.items():
        value = answers.get(name)
        if isinstance(value, bool):
            value = "yes" if value else "no"
        if value is not None:
            found.append((SHORT[name], dict(getattr(field, "choices", ())).get(value, value)))
    return found
