"""One booking: what it is, who and what it holds, and what can be done with it now."""

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django_stubs_ext import StrOrPromise

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.diary import actions, again, behind, marks, papers, under_way
from clinic.diary.access import access_booking
from clinic.diary.acts import ACTS, Offered, possible, press
from clinic.diary.history import history
from clinic.diary.holding import course, holds
from clinic.diary.models import COMING, Booking, Status, Why
from clinic.diary.openings import Openings
from clinic.diary.refusals import ChangedMeanwhile, NotPossibleNow
from clinic.diary.views.finding import PENCILLED, next_openings
from clinic.messages import saying
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

MOST_MESSAGES = 40  # more about one visit than anybody reads
# Refusals after which another time is wanted.
TIME_GONE = (actions.SlotTaken, actions.OutsideOpeningHours, actions.HoldEnded, actions.PencilEnded)
_SAID: dict[str, StrOrPromise] = {
    "book-held": gettext_lazy("Booked. The confirmation is on its way."),
    "let-go": gettext_lazy("The time is free again."),
    "give-up": gettext_lazy("Let go. The time is free again, and the patient is told."),
}


class CancelForm(forms.Form):
    by = forms.ChoiceField(
        label=gettext_lazy("Who cancels"),
        choices=[("patient", gettext_lazy("the patient")), ("practice", gettext_lazy("the practice"))],
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("Say who cancels.")},
    )
    why = forms.ChoiceField(label=gettext_lazy("Why"), choices=Why, required=False)
    reason = forms.CharField(label=gettext_lazy("More, in a few words"), max_length=200, required=False)
    # As it was on the page: a colleague may have moved the visit since.
    version = forms.IntegerField(widget=forms.HiddenInput)


class WhyForm(forms.Form):
    """Why somebody did not come, once the desk hears of it."""

    why = forms.ChoiceField(label=gettext_lazy("Why"), choices=Why, required=False)
    reason = forms.CharField(label=gettext_lazy("More, in a few words"), max_length=200, required=False)


@staff(Capability.DIARY_READ)
def one(request: StaffRequest, pk: int) -> HttpResponse:
    return booking_page(request, access_booking(user=request.user, pk=pk, to=Capability.DIARY_READ))


@staff(Capability.DIARY_READ, background=True)
def held(request: StaffRequest, pk: int) -> HttpResponse:
    """How long a time is still held: the page of the hold asks by itself."""
    booking = access_booking(user=request.user, pk=pk, to=Capability.DIARY_READ)
    return render(request, "diary/_held.html", {"booking": booking, "now": now()})


@staff(Capability.DIARY_BOOK, methods=("POST",))
def act(request: StaffRequest, pk: int, act: str) -> HttpResponse:
    booking = access_booking(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    if act not in ACTS:
        raise Http404
    try:
        booking = press(act, booking, actor=request.actor, now=now())
    except Refusal as refusal:
        return _refused(request, pk, refusal)
    said = _said(act, booking) or _("The visit is now “%(status)s”.") % {"status": booking.get_status_display()}
    messages.success(request, said)
    if act == "let-go":
        return redirect(again.url(booking))
    # From a list of visits one goes back to that list.
    if request.POST.get("back") == "start":
        return redirect(f"{resolve_url(settings.LOGIN_REDIRECT_URL)}?done={pk}#visit_{pk}")
    return redirect("booking", pk=pk)


def _said(act: str, booking: Booking) -> StrOrPromise | None:
    if act == "give-up" and (plain := _without_promise(booking)):
        return plain
    return PENCILLED if (act, booking.status) == ("book-held", Status.PROPOSED) else _SAID.get(act)


def _without_promise(booking: Booking) -> str:
    """Of somebody who died nobody is told; empty where the patient is."""
    if booking.patient.died_on is None:
        return ""
    return _("Cancelled. The time is free again. The patient is noted as having died: nothing is sent.")


@staff(Capability.DIARY_BOOK, methods=("POST",))
def cancel(request: StaffRequest, pk: int) -> HttpResponse:
    booking = access_booking(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    form = CancelForm(request.POST)
    if not form.is_valid():
        if booking.status not in actions.CANCELLABLE:
            # The form, and with it what is wrong in it, is gone from the page.
            return _refused(request, pk, NotPossibleNow(status=booking.get_status_display()))
        return booking_page(request, booking, form, status=422)
    said = dict(form.cleaned_data)
    try:
        if said.pop("version") != booking.version:
            raise ChangedMeanwhile
        actions.cancel(booking=booking, actor=request.actor, now=now(), **said)
    except Refusal as refusal:
        # On top of the page: the form is gone from it when there is nothing to cancel any more.
        messages.error(request, str(refusal))
        return booking_page(
            request, access_booking(user=request.user, pk=pk, to=Capability.DIARY_BOOK), form, status=409
        )
    messages.success(
        request, _without_promise(booking) or _("Cancelled. The time is free again and the patient is told.")
    )
    return redirect("booking", pk=pk)


@staff(Capability.DIARY_BOOK, methods=("POST",))
def why(request: StaffRequest, pk: int) -> HttpResponse:
    booking = access_booking(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    form = WhyForm(request.POST)
    if not form.is_valid():
        return booking_page(request, booking, why_form=form, status=422)
    try:
        actions.note_why(booking=booking, actor=request.actor, **form.cleaned_data)
    except Refusal as refusal:
        return _refused(request, pk, refusal)
    messages.success(request, _("Noted."))
    return redirect("booking", pk=pk)


def _refused(request: StaffRequest, pk: int, refusal: Refusal) -> HttpResponse:
    """The page as it is now; where the time itself is gone, with what is free instead."""
    messages.error(request, str(refusal))
    booking = access_booking(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    free = next_openings(booking, now=now()) if isinstance(refusal, TIME_GONE) else None
    return booking_page(request, booking, free=free, status=409)


def booking_page(
    request: StaffRequest,
    booking: Booking,
    form: CancelForm | None = None,
    *,
    free: Openings | None = None,
    why_form: WhyForm | None = None,
    status: int = 200,
) -> HttpResponse:
    at = now()
    is_held = booking.status == Status.PENDING
    mark = marks.marks_for([booking], user=request.user, now=at).get(booking.pk)
    claims = list(booking.claims.filter(active=True).select_related("resource"))
    may_book = may(request.user, Capability.DIARY_BOOK, booking.site)
    record = under_way.open_record(booking)
    context = {
        "booking": booking,
        "now": at,
        "is_held": is_held,
        "openings": free,
        "days": history(booking),
        "has_ended": booking.status == Status.NOSHOW or booking.cancelled_by in {"patient", "practice"},
        "why_form": _why_form(booking, why_form) if may_book else None,
        "again": again.url(booking),
        "holds": holds(claims),
        "course": course(claims),
        "acts": _acts(request, booking, mark) if may_book else [],
        "record_open": record,
        "chair": record.url if record and may(request.user, record.to, booking.site) else "",
        "form": form or CancelForm(),
        "may_book": may_book,
        "can_hand_over": not is_held
        and booking.status in COMING
        and may(request.user, Capability.CONSENT_HAND_OUT, booking.site),
        "can_cancel": may_book and booking.status in actions.CANCELLABLE,
        "can_move": may_book and booking.status in actions.MOVABLE and booking.patient.died_on is None,
        "papers": papers.of_visit(booking) if may(request.user, Capability.DOCUMENTS_READ, booking.site) else [],
        "messages_about": _messages(request, booking),
        "too_near": behind.too_near(booking),
        "mark": mark,
    }
    return render(request, "diary/booking.html", context, status=status)


def _messages(request: StaffRequest, booking: Booking) -> list[saying.Line]:
    """Reminders, confirmations and whatever else speaks of this visit, oldest version last."""
    if not may(request.user, Capability.MESSAGES_READ, booking.site):
        return []
    return saying.lines(saying.about(("booking", booking.pk))[:MOST_MESSAGES])


def _acts(request: StaffRequest, booking: Booking, mark: marks.Mark | None) -> list[Offered]:
    """No key that would only be refused: what is not agreed yet is not confirmed."""
    waits = mark is not None and mark.not_agreed
    found = possible(booking, actor=request.actor, now=now())
    return [one for one in found if not (waits and one[0] == "confirm")]


def _why_form(booking: Booking, form: WhyForm | None) -> WhyForm | None:
    if booking.status != Status.NOSHOW:
        return None
    return form or WhyForm(initial={"why": booking.why, "reason": booking.cancel_reason})
