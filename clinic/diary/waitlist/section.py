"""The waiting list's part of a patient's page: what they wait for, and the way onto the list."""

from typing import Any

from django.http import HttpRequest

from clinic.accounts.rights import Capability, may
from clinic.diary.models import WaitingOffer
from clinic.diary.waitlist.reading import on_offer, waiting_of
from clinic.patients.hints import Section
from clinic.patients.models import Patient
from clinic.trail.clock import now


def _context(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    at = now()
    return {
        "patient": patient,
        "now": at,
        "wishes": waiting_of(patient.pk, now=at),
        "on_offer": on_offer(WaitingOffer.objects.filter(wish__patient=patient), now=at),
        "may_book": patient.died_on is None and may(request.user, Capability.DIARY_BOOK, patient.site),
    }


WAITING = Section("waitlist", "diary/waitlist/_patient_section.html", _context, position=30)
