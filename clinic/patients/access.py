"""The one door to a patient: gives the row, or 404 without saying whether it exists elsewhere."""

from django.http import Http404

from clinic.accounts.models import User
from clinic.patients.models import Patient


def access_patient(*, user: User, pk: int) -> Patient:
    patient = Patient.objects.visible_to(user).select_related("site").filter(pk=pk).first()
    if patient is None:
        raise Http404
    return patient
