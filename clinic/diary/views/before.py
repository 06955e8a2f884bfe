"""The patient's page before a visit: when and where, what is still to do, and whether they can come."""

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django_stubs_ext import StrOrPromise

from clinic.diary import kinds
from clinic.diary.before import todos
from clinic.diary.models import COMING, Booking
from clinic.diary.selfservice.reading import offer_of
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now


@patient(kinds.VISIT)
def page(request: PatientRequest) -> HttpResponse:
    return visit_page(request)


def own_visit(request: PatientRequest) -> Booking | None:
    """The visit whose link was opened."""
    booking = kinds.load(request.link.subject_id)
    # Whose page it is, is checked against the visit too; a merged row's visits belong to the row it went into.
    if booking is not None and request.patient.pk not in {booking.patient_id, booking.patient.merged_into_id}:
        raise Http404
    return booking


def visit_page(request: PatientRequest, error: StrOrPromise = "", *, status: int = 200) -> HttpResponse:
    booking, at = own_visit(request), now()
    # The visit may have been called off while the link still stands open on a phone.
    stands = booking is not None and booking.status in COMING
    some = todos(booking, now=at) if booking is not None and stands else []
    asked = [todo for todo in some if not todo.is_offer]
    open_ones = [todo for todo in asked if not todo.done]
    context = {
        "booking": booking,
        "stands": stands,
        # One thing at a time: the first that is open is the page's button, the others are a list.
        "next": open_ones[0] if open_ones else None,
        "others": [todo for todo in asked if todo not in open_ones[:1]],
        "offers": [todo for todo in some if todo.is_offer],
        "open_count": len(open_ones),
        "open_minutes": sum(todo.minutes for todo in open_ones),
        "can": offer_of(booking, now=at) if booking is not None else None,
        "error": error,
    }
    return render(request, "diary/before.html", context, status=status)
