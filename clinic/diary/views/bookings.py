"""One booking: what it is, who and what it holds, and what can be done with it now."""

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may, require
from clinic.diary import actions, marks
from clinic.diary.access import access_booking
from clinic.diary.acts import ACTS, possible
from clinic.diary.holding import course, holds
from clinic.diary.models import COMING, Booking
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


class CancelForm(forms.Form):
    by = forms.ChoiceField(
        label=gettext_lazy("Who cancels"),
        choices=[("patient", gettext_lazy("the patient")), ("practice", gettext_lazy("the practice"))],
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("Say who cancels.")},
    )
    reason = forms.CharField(label=gettext_lazy("Why, in a few words"), max_length=200, required=False)


@staff(Capability.DIARY_READ)
def one(request: StaffRequest, pk: int) -> HttpResponse:
    return booking_page(request, access_booking(user=request.user, pk=pk))


@staff(Capability.DIARY_BOOK, methods=("POST",))
def act(request: StaffRequest, pk: int, act: str) -> HttpResponse:
    booking = access_booking(user=request.user, pk=pk)
    require(request.user, Capability.DIARY_BOOK, booking.site)
    if act not in ACTS:
        raise Http404
    try:
        booking = ACTS[act][0](booking, request.actor, now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return booking_page(request, access_booking(user=request.user, pk=pk), status=409)
    messages.success(request, _("The visit is now “%(status)s”.") % {"status": booking.get_status_display()})
    # From a list of visits one goes back to that list.
    return redirect(settings.LOGIN_REDIRECT_URL) if request.POST.get("back") == "start" else redirect("booking", pk=pk)


@staff(Capability.DIARY_BOOK, methods=("POST",))
def cancel(request: StaffRequest, pk: int) -> HttpResponse:
    booking = access_booking(user=request.user, pk=pk)
    require(request.user, Capability.DIARY_BOOK, booking.site)
    form = CancelForm(request.POST)
    if not form.is_valid():
        return booking_page(request, booking, form, status=422)
    try:
        actions.cancel(booking=booking, actor=request.actor, now=now(), **form.cleaned_data)
    except Refusal as refusal:
        # On top of the page: the form is gone from it when there is nothing to cancel any more.
        messages.error(request, str(refusal))
        return booking_page(request, access_booking(user=request.user, pk=pk), form, status=409)
    messages.success(request, _("Cancelled. The time is free again and the patient is told."))
    return redirect("booking", pk=pk)


def booking_page(
    request: StaffRequest, booking: Booking, form: CancelForm | None = None, *, status: int = 200
) -> HttpResponse:
    at = now()
    claims = list(booking.claims.filter(active=True).select_related("resource"))
    may_book = may(request.user, Capability.DIARY_BOOK, booking.site)
    context = {
        "booking": booking,
        "holds": holds(claims),
        "course": course(claims),
        "acts": possible(booking, now=at) if may_book else [],
        "form": form or CancelForm(),
        "can_hand_over": booking.status in COMING and may(request.user, Capability.CONSENT_HAND_OUT, booking.site),
        "can_cancel": may_book and booking.status in actions.CANCELLABLE,
        "can_move": may_book and booking.status in actions.MOVABLE,
        "mark": marks.marks_for([booking], user=request.user, now=at).get(booking.pk),
    }
    return render(request, "diary/booking.html", context, status=status)
