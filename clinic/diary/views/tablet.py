"""Handing the practice's tablet to a patient: it opens one patient's pages and cannot leave them."""

from django.contrib.auth import logout
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.access import access_booking
from clinic.diary.kinds import VISIT
from clinic.messages import links, visits
from clinic.trail.clock import now, real_now


@staff(Capability.CONSENT_HAND_OUT, methods=("POST",))
def hand_over(request: StaffRequest, pk: int) -> HttpResponse:
    """Ends the staff session on this device first: whoever holds it now sees this patient's pages and nothing else."""
    booking = access_booking(user=request.user, pk=pk)
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
    logout(request)
    response = redirect("before_visit")
    visits.give_cookie(response, secret)
    return response
