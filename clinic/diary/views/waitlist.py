"""The waiting list: who is being offered what until when, who waits, and what somebody waits for."""

from datetime import datetime
from typing import Protocol, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django_stubs_ext import StrOrPromise

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.diary.access import access_booking
from clinic.diary.models import MOVABLE, Booking, WaitingOffer, WaitingWish, WishEnd
from clinic.diary.refusals import NobodyWaits
from clinic.diary.views.nobody import no_times
from clinic.diary.waitlist import answering, listing
from clinic.diary.waitlist.access import access_offer, access_wish
from clinic.diary.waitlist.forms import NewWishForm, WishForm, as_initial, form_for
from clinic.diary.waitlist.reading import read_list
from clinic.patients.access import access_patient
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


@staff(Capability.DIARY_READ)
def waiting(request: StaffRequest) -> HttpResponse:
    at = now()
    context = {
        "read": read_list(request.site, now=at),
        "now": at,
        "may_book": may(request.user, Capability.DIARY_BOOK, request.site),
    }
    return render(request, "diary/waitlist/list.html", context)


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def add(request: StaffRequest, patient_pk: int) -> HttpResponse:
    """With `booking` in the address: that visit, which would move up."""
    patient = access_patient(user=request.user, pk=patient_pk, to=Capability.DIARY_BOOK)
    if page := no_times(request, patient):
        return page
    at, later = now(), _later(request, patient)
    today = at.astimezone(patient.site.zone).date()
    if request.method == "GET":
        asked = _asked(request, later) | {"since_on": today}
        form = form_for(later)(site=patient.site, today=today, initial=asked)
        return _form_page(request, form, patient, later)
    form = form_for(later)(request.POST, site=patient.site, today=today)
    if not form.is_valid():
        return _form_page(request, form, patient, later, status=422)
    visit = form.visit() if isinstance(form, NewWishForm) else later
    if visit is None:
        raise Http404
    try:
        listing.add_wish(patient=patient, visit=visit, details=form.details(), actor=request.actor, now=at)
    except Refusal as refusal:
        return _form_page(request, form, patient, later, error=str(refusal), status=409)
    messages.success(request, _("On the waiting list. A time that fits and becomes free is offered by itself."))
    return redirect("waitlist")


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def change(request: StaffRequest, pk: int) -> HttpResponse:
    wish = access_wish(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    if page := no_times(request, wish.patient):
        return page
    at = now()
    today = at.astimezone(wish.site.zone).date()
    if request.method == "GET":
        form = WishForm(site=wish.site, today=today, initial=as_initial(wish))
        return _form_page(request, form, wish.patient, wish.booking, wish=wish)
    form = WishForm(request.POST, site=wish.site, today=today)
    if not form.is_valid():
        return _form_page(request, form, wish.patient, wish.booking, status=422, wish=wish)
    version = request.POST.get("version", "")
    try:
        listing.change_wish(
            wish=wish,
            # The version that was on the page: a colleague's change is not overruled unseen.
            version=int(version) if version.isdecimal() and len(version) < 10 else 0,
            details=form.details(),
            actor=request.actor,
            now=at,
        )
    except Refusal as refusal:
        return _form_page(request, form, wish.patient, wish.booking, error=str(refusal), status=409, wish=wish)
    messages.success(request, _("Changed."))
    return redirect("waitlist")


@staff(Capability.DIARY_BOOK, methods=("POST",))
def remove(request: StaffRequest, pk: int) -> HttpResponse:
    wish = access_wish(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    if listing.end_wish(wish, because=WishEnd.REMOVED, actor=request.actor, now=now()):
        messages.success(request, _("Taken off the waiting list. It can be put back below."))
    else:
        messages.error(request, str(NobodyWaits()))
    return redirect("waitlist")


@staff(Capability.DIARY_BOOK, methods=("POST",))
def put_back(request: StaffRequest, pk: int) -> HttpResponse:
    wish = access_wish(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    try:
        listing.put_back(wish=wish, actor=request.actor)
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("On the waiting list again, since the same day."))
    return redirect("waitlist")


@staff(Capability.DIARY_BOOK, methods=("POST",))
def answer(request: StaffRequest, pk: int, answer: str) -> HttpResponse:
    """For somebody on the telephone, or because the practice needs the time itself."""
    offer = access_offer(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    if answer not in ANSWERS:
        raise Http404
    act, said = ANSWERS[answer]
    try:
        done = act(offer=offer, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, PENCILLED if isinstance(done, Booking) and done.lapses_at else said)
    return redirect("waitlist")


class Act(Protocol):
    def __call__(self, *, offer: WaitingOffer, actor: Actor, now: datetime) -> object: ...


def _leave(*, offer: WaitingOffer, actor: Actor, now: datetime) -> None:
    answering.decline(offer=offer, actor=actor, now=now, leave=True)


ANSWERS: dict[str, tuple[Act, StrOrPromise]] = {
    "yes": (answering.accept, gettext_lazy("Booked. The confirmation is on its way.")),
    "no": (answering.decline, gettext_lazy("Noted. The time goes to the next person whom it fits.")),
    "leave": (_leave, gettext_lazy("Off the waiting list. The time goes to the next person whom it fits.")),
    "withdraw": (answering.withdraw, gettext_lazy("Taken back. The time is free again.")),
}


PENCILLED = gettext_lazy(
    "Pencilled: what has to be agreed first is not yet. It lapses by itself unless it is confirmed."
)


def _later(request: HttpRequest, patient: Patient) -> Booking | None:
    """The booked visit that is to move up, where the address names one of this patient's."""
    asked = request.GET.get("booking", "")
    if not asked.isdecimal() or len(asked) > 18:
        return None
    booking = access_booking(user=cast(User, request.user), pk=int(asked), to=Capability.DIARY_BOOK)
    if booking.patient_id != patient.pk or booking.status not in MOVABLE:
        raise Http404
    return booking


def _asked(request: HttpRequest, later: Booking | None) -> dict[str, object]:
    """What was looked for on the page that found nothing, so that nothing is typed twice."""
    names = set(form_for(later).base_fields) & set(request.GET)
    return {name: request.GET.getlist(name) if name == "weekdays" else request.GET[name] for name in names}


def _form_page(
    request: StaffRequest,
    form: WishForm,
    patient: Patient,
    later: Booking | None,
    *,
    error: str = "",
    status: int = 200,
    wish: WaitingWish | None = None,
) -> HttpResponse:
    context = {"form": form, "patient": patient, "later": later, "error": error, "wish": wish}
    return render(request, "diary/waitlist/form.html", context, status=status)
