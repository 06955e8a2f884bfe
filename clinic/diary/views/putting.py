"""Takes a visit that was dragged, or moved by keys, on a diary page; the page says in place how it went."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import actions, behind
from clinic.diary.access import access_booking
from clinic.diary.forms import PutForm
from clinic.diary.models import Booking
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


@staff(Capability.DIARY_BOOK, methods=("POST",))
def put(request: StaffRequest, pk: int) -> HttpResponse:
    booking = access_booking(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    form = PutForm(request.POST, site=booking.site)
    if not form.is_valid():
        return _refused(request, booking, _("The visit cannot be put there. Pick a time inside the table."), 422)
    data = form.cleaned_data
    # The version that was on the page: somebody who moved the visit meanwhile is not overruled unseen.
    booking.version, was_at = data["version"] or 0, booking.starts_at
    try:
        moved = actions.put(
            booking=booking, start_at=data["start_at"], of=data["of"], to=data["to"], actor=request.actor, now=now()
        )
    except Refusal as refusal:
        return _refused(request, booking, str(refusal), 409)
    return _done(request, moved, {"start_at": was_at, "of": data["to"].pk, "to": data["of"]})


def _done(request: StaffRequest, booking: Booking, back: dict[str, object]) -> HttpResponse:
    return render(
        request, "diary/_put_done.html", {"booking": booking, "back": back, "too_near": behind.too_near(booking)}
    )


def _refused(request: StaffRequest, booking: Booking, sentence: str, status: int) -> HttpResponse:
    return render(request, "diary/_put_refused.html", {"booking": booking, "error": sentence}, status=status)
