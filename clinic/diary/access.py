"""The one door to a booking: gives the row, or 404 without saying whether it exists elsewhere."""

from django.http import Http404

from clinic.accounts.models import User
from clinic.diary.models import Booking


def access_booking(*, user: User, pk: int) -> Booking:
    rows = Booking.objects.visible_to(user).select_related("site", "patient", "visit_type")
    booking = rows.filter(pk=pk).first()
    if booking is None:
        raise Http404
    return booking
