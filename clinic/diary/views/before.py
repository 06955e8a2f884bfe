"""The patient's page before a visit: when and where, and what is still to do."""

from django.http import HttpResponse
from django.shortcuts import render

from clinic.diary import kinds
from clinic.diary.before import todos
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now


@patient(kinds.VISIT)
def page(request: PatientRequest) -> HttpResponse:
    booking = kinds.load(request.link.subject_id)
    some = todos(booking, now=now()) if booking else []
    open_ones = [todo for todo in some if not todo.done]
    context = {
        "booking": booking,
        "todos": some,
        "open_count": len(open_ones),
        "open_minutes": sum(todo.minutes for todo in open_ones),
    }
    return render(request, "diary/before.html", context)
