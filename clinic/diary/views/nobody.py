"""Instead of free times: somebody who is noted as having died is offered none, whichever page is asked."""

from django.http import HttpResponse
from django.shortcuts import render

from clinic.accounts.doors import StaffRequest
from clinic.patients.models import Patient


def no_times(request: StaffRequest, patient: Patient) -> HttpResponse | None:
    """The page that says so, for one who died; None for everybody else."""
    if patient.died_on is None:
        return None
    is_refusal = request.method != "GET"
    context = {"patient": patient, "is_refusal": is_refusal}
    return render(request, "diary/noted_as_died.html", context, status=409 if is_refusal else 200)
