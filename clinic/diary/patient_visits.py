"""The diary's part of a patient's page: the visits that stand, the next one first, and the last ones before."""

from typing import Any

from django.http import HttpRequest

from clinic.accounts.rights import Capability, may
from clinic.diary.actions.stepping import RELEASED
from clinic.diary.models import COMING, Booking
from clinic.patients.hints import Section
from clinic.patients.models import Patient
from clinic.trail.clock import now

STANDING_SHOWN, EARLIER_SHOWN = 20, 3


def _context(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    if not may(request.user, Capability.DIARY_READ, patient.site):
        return {"may_read": False}
    rows = Booking.objects.filter(patient=patient).select_related("visit_type", "site")
    standing = rows.filter(status__in=COMING).without_what_ran_out(now=now())
    # A time that was only held was never promised to anybody.
    earlier = rows.exclude(status__in=COMING).exclude(cancelled_by=RELEASED)
    return {
        "may_read": True,
        "standing": list(standing.order_by("starts_at", "pk")[:STANDING_SHOWN]),
        "earlier": list(earlier.order_by("-starts_at", "-pk")[:EARLIER_SHOWN]),
    }


VISITS = Section("visits", "diary/_patient_section.html", _context, position=5)
