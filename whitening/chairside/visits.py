"""What the diary is told of a visit whose session runs: it ends at the chair, where what is missing is asked for."""

from django.urls import reverse

from clinic.accounts.rights import Capability
from clinic.diary.models import Booking
from clinic.diary.under_way import OpenRecord
from whitening.chairside.models import Session


def open_record(booking: Booking) -> OpenRecord | None:
    session = Session.objects.open().filter(booking=booking).first()
    if session is None:
        return None
    return OpenRecord(url=reverse("chairside", args=[session.pk]), to=Capability.CHAIRSIDE_RECORD)
