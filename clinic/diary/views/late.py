"""The late key: when the patient is here, what then fits, and three ways on."""

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.fields import NativeTime
from clinic.accounts.rights import Capability
from clinic.diary import actions
from clinic.diary.access import access_booking
from clinic.diary.acts import possible as offered
from clinic.diary.engine.working import instant
from clinic.diary.late import what_fits
from clinic.diary.late_words import begin_words, late_sentence, why_not_more
from clinic.diary.models import Booking, LateAnswer, Status
from clinic.diary.suiting import INVALID_TIME
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

STEP = timedelta(minutes=5)


class HereForm(forms.Form):
    """When the patient is here, on the wall clock of the visit's day."""

    here = forms.TimeField(
        label=gettext_lazy("Here at"),
        widget=NativeTime,
        error_messages={**INVALID_TIME, "required": INVALID_TIME["invalid"]},
    )

    def __init__(self, *args: Any, booking: Booking, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.booking = booking

    def here_at(self) -> datetime:
        return instant(self.booking.wall_on, self.cleaned_data["here"], self.booking.site.zone)


class ChoiceForm(HereForm):
    """What is to be done then."""

    do = forms.ChoiceField(choices=[("begin", ""), ("move", ""), ("ask", "")])
    cycles = forms.IntegerField(min_value=0, required=False)
    version = forms.IntegerField()

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        # Nobody begins a session without a cycle; a visit that has none is whole without a number.
        if data.get("do") == "begin" and self.booking.agreed_cycles and not data.get("cycles"):
            self.add_error("cycles", self.fields["cycles"].error_messages["required"])
        return data


class AnswerForm(forms.Form):
    answer = forms.ChoiceField(choices=[(one.value, one.label) for one in (LateAnswer.FIT, LateAnswer.MOVE)])


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def late(request: StaffRequest, pk: int) -> HttpResponse:
    booking, at = access_booking(user=request.user, pk=pk, to=Capability.DIARY_BOOK), now()
    if request.method == "GET":
        return _page(request, booking, at, HereForm(_asked(request, booking, at), booking=booking))
    form = ChoiceForm(request.POST, booking=booking)
    if not form.is_valid() or not _is_today(booking, at):
        return _page(request, booking, at, HereForm(request.POST, booking=booking), status=422)
    # What was on the page: somebody who changed the visit meanwhile is not overruled unseen.
    booking.version = form.cleaned_data["version"]
    try:
        return _DO[form.cleaned_data["do"]](request, booking, form, at)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        fresh = access_booking(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
        return _page(request, fresh, at, HereForm(request.POST, booking=fresh), status=409)


@staff(Capability.SESSION_CLOSE, methods=("POST",))
def answer(request: StaffRequest, pk: int) -> HttpResponse:
    """On the question that is open about this visit."""
    booking, at = access_booking(user=request.user, pk=pk, to=Capability.SESSION_CLOSE), now()
    form = AnswerForm(request.POST)
    question = booking.late_questions.filter(answer=LateAnswer.NONE).select_related("booking__site").first()
    if question is None or not form.is_valid():
        messages.error(request, _("Nothing is asked about this visit any more."))
        return redirect(settings.LOGIN_REDIRECT_URL)
    try:
        actions.answer_about_late(
            question=question,
            answer=LateAnswer(form.cleaned_data["answer"]),
            user=request.user,
            actor=request.actor,
            now=at,
        )
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("Answered. The desk reads it on Today."))
    return redirect(settings.LOGIN_REDIRECT_URL)


def _begin(request: StaffRequest, booking: Booking, form: ChoiceForm, at: datetime) -> HttpResponse:
    cycles = form.cleaned_data["cycles"] or 0
    actions.begin_late(booking=booking, here_at=form.here_at(), cycles=cycles, actor=request.actor, now=at)
    messages.success(request, _("Noted. The diary shows the new end, and everybody who is needed is held until then."))
    return redirect(settings.LOGIN_REDIRECT_URL)


def _move(request: StaffRequest, booking: Booking, _form: ChoiceForm, at: datetime) -> HttpResponse:
    if booking.status == Status.ARRIVED:
        actions.comes_another_time(booking=booking, actor=request.actor, now=at)
    return redirect("booking_move", pk=booking.pk)


def _ask(request: StaffRequest, booking: Booking, form: ChoiceForm, at: datetime) -> HttpResponse:
    here_at = max(form.here_at(), at)
    actions.ask_about_late(booking=booking, here_at=here_at, actor=request.actor, now=at)
    messages.success(request, _("Asked. The question stands on Today until the dentist answers it."))
    return redirect(settings.LOGIN_REDIRECT_URL)


_DO = {"begin": _begin, "move": _move, "ask": _ask}


def _is_today(booking: Booking, at: datetime) -> bool:
    return booking.wall_on == at.astimezone(booking.site.zone).date()


def _asked(request: StaffRequest, booking: Booking, at: datetime) -> dict[str, str]:
    """Filled in with now, or with the visit's own time while that is still to come; in steps of five minutes."""
    first = max(at, booking.starts_at)
    up = first + (datetime.min.replace(tzinfo=first.tzinfo) - first) % STEP
    return {"here": request.GET.get("here") or f"{up.astimezone(booking.site.zone):%H:%M}"}


def _page(request: StaffRequest, booking: Booking, at: datetime, form: HereForm, *, status: int = 200) -> HttpResponse:
    possible = booking.status in actions.LATE_CAN_BEGIN and _is_today(booking, at)
    found = what_fits(booking, here_at=form.here_at(), now=at) if possible and form.is_valid() else None
    context = {
        "booking": booking,
        "form": form,
        "possible": possible,
        "late": found,
        "sentence": late_sentence(found) if found else "",
        "why": why_not_more(found) if found else "",
        "begin": begin_words(found) if found and found.cycles else "",
        # In time after all: they can be noted as here without a way round over the visit.
        "here_word": dict(offered(booking, actor=request.actor, now=at)).get("arrive", "") if possible else "",
        "asked": booking.late_questions.filter(answer=LateAnswer.NONE).exists(),
    }
    return render(request, "diary/late.html", context, status=status if form.is_valid() else 422)
