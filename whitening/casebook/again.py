"""A visit of an open case is booked again on the case's own page: so the case knows of it."""

from django.urls import reverse

from clinic.diary.models import Booking
from whitening.cases.models import CaseVisit


def page_of_the_case(booking: Booking) -> str | None:
    visit = CaseVisit.objects.filter(booking=booking, case__closed_at=None).first()
    return reverse("case_time", args=[visit.case_id, visit.purpose]) if visit is not None else None
