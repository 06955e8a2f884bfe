"""Handing the practice's tablet to a patient: it opens one patient's pages and cannot leave them."""

from django.contrib import messages
from django.contrib.auth import logout
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.access import access_booking
from clinic.diary.kinds import VISIT
from clinic.diary.models import Booking
from clinic.diary.views.bookings import booking_page
from clinic.messages import links, visits
from clinic.trail.clock import now, real_now
from clinic.trail.refusals import Refusal


@staff(Capability.CONSENT_HAND_OUT, methods=("POST",))
def hand_over(request: StaffRequest, pk: int) -> HttpResponse:
    """Ends the staff session on this device first: whoever holds it now sees this patient's pages and nothing else."""
    booking = access_booking(user=request.user, pk=pk, to=Capability.CONSENT_HAND_OUT)
    try:
        secret = _begin(request, booking)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return booking_page(request, booking, status=409)
    logout(request)
    response = redirect("before_visit")
    visits.give_cookie(response, secret)
    return response


def _begin(request: StaffRequest, booking: Booking) -> str:
    """A link and a visit on this device; the secret of its cookie. Raises PurposeDone once the visit is over."""
    with transaction.atomic():
        # Made beside the one that was mailed, which stays good.
        link, _url = links.make(
            purpose=VISIT,
            subject_id=booking.pk,
            patient=booking.patient,
            site=booking.site,
            now=now(),
            actor=request.actor,
        )
        _visit, secret = visits.begin_on_tablet(link=link, staff=request.actor, real_now=real_now())
    return secret
