"""The one door to a patient, who belongs to the site that registered them."""

from clinic.accounts.access import one_of
from clinic.accounts.models import User
from clinic.accounts.rights import Capability
from clinic.patients.models import Patient


def access_patient(*, user: User, pk: int, to: Capability) -> Patient:
    return one_of(Patient.objects.visible_to(user).select_related("site"), user=user, pk=pk, to=to)


def access_record(*, user: User, pk: int, to: Capability) -> Patient:
    """Also one that was joined with another record of the same person: it is read, and nothing is begun with it."""
    rows = Patient.objects.visible_to(user) | Patient.objects.joined_visible_to(user)
    return one_of(rows.select_related("site", "merged_into"), user=user, pk=pk, to=to)
